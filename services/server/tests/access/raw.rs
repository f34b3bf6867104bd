//! A call of any method with a message of no bytes, and with or without a token.

use prost::bytes::{Buf as _, Bytes};
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::transport::Channel;
use tonic::{Request, Status};

#[derive(Debug, Clone, Default)]
struct Empty;

impl Codec for Empty {
    type Encode = ();
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

impl Encoder for Empty {
    type Item = ();
    type Error = Status;
    fn encode(&mut self, (): (), _: &mut EncodeBuf<'_>) -> Result<(), Status> {
        Ok(())
    }
}

impl Decoder for Empty {
    type Item = Bytes;
    type Error = Status;
    fn decode(&mut self, input: &mut DecodeBuf<'_>) -> Result<Option<Bytes>, Status> {
        let rest = input.remaining();
        Ok(Some(input.copy_to_bytes(rest)))
    }
}

pub(crate) async fn channel(address: &str) -> Channel {
    Channel::from_shared(format!("http://{address}")).unwrap().connect().await.unwrap()
}

/// Calls a method by its path and gives how it began: with an answer, or with a refusal.
pub(crate) async fn call(channel: Channel, path: &str, authorization: Option<&str>) -> Result<(), Status> {
    let mut grpc = tonic::client::Grpc::new(channel);
    grpc.ready().await.map_err(|e| Status::unknown(e.to_string()))?;
    let mut request = Request::new(());
    if let Some(value) = authorization {
        request.metadata_mut().insert("authorization", value.parse().unwrap());
    }
    // Every method can be called as one with an answering stream; a unary answer is a stream of one.
    let mut stream = grpc.server_streaming(request, path.parse().unwrap(), Empty).await?.into_inner();
    stream.message().await.map(|_| ())
}
