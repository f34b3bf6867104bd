//! A call of any method with bytes, so that cases can be made from the descriptor.

use prost::bytes::{Buf as _, BufMut as _, Bytes};
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::{Request, Status};

#[derive(Debug, Clone, Default)]
pub(crate) struct Raw;

impl Codec for Raw {
    type Encode = Bytes;
    type Decode = Bytes;
    type Encoder = Self;
    type Decoder = Self;
    fn encoder(&mut self) -> Self {
        Self
    }
    fn decoder(&mut self) -> Self {
        Self
    }
}

impl Encoder for Raw {
    type Item = Bytes;
    type Error = Status;
    fn encode(&mut self, item: Bytes, out: &mut EncodeBuf<'_>) -> Result<(), Status> {
        out.put(item);
        Ok(())
    }
}

impl Decoder for Raw {
    type Item = Bytes;
    type Error = Status;
    fn decode(&mut self, input: &mut DecodeBuf<'_>) -> Result<Option<Bytes>, Status> {
        let rest = input.remaining();
        Ok(Some(input.copy_to_bytes(rest)))
    }
}

/// Calls a method by its path and gives the first thing that comes back.
pub(crate) async fn call(channel: tonic::transport::Channel, path: &str, message: Bytes) -> Result<(), Status> {
    let mut grpc = tonic::client::Grpc::new(channel);
    grpc.ready().await.map_err(|e| Status::unknown(e.to_string()))?;
    let path = path.parse().map_err(|_| Status::unknown("path"))?;
    // Every method can be called as one with an answering stream; a unary answer is a stream of one.
    let mut stream = grpc.server_streaming(Request::new(message), path, Raw).await?.into_inner();
    stream.message().await.map(|_| ())
}
