//! A call of any method with any bytes as its message, whole or in part.

use prost::bytes::{Buf as _, BufMut as _, Bytes};
use tokio_stream::StreamExt as _;
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::transport::{Channel, Endpoint};
use tonic::{Request, Status};

#[derive(Debug, Clone, Default)]
struct Raw;

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
    fn encode(&mut self, item: Bytes, into: &mut EncodeBuf<'_>) -> Result<(), Status> {
        into.put(item);
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

/// A connection that takes no more than 64 KiB before its reader asks for it.
pub async fn narrow(url: &str) -> Channel {
    let endpoint = Endpoint::from_shared(url.to_owned()).unwrap();
    endpoint.initial_stream_window_size(65_535).initial_connection_window_size(65_535).connect().await.unwrap()
}

pub async fn connect(url: &str) -> Channel {
    Channel::from_shared(url.to_owned()).unwrap().connect().await.unwrap()
}

fn with<T>(message: T, authorization: Option<&str>) -> Request<T> {
    let mut request = Request::new(message);
    if let Some(value) = authorization {
        request.metadata_mut().insert("authorization", value.parse().unwrap());
    }
    request
}

/// Calls a method with a message, and gives how it ended: a stream is taken up to its first part.
pub async fn call(channel: &Channel, path: &str, authorization: Option<&str>, message: Bytes) -> Result<(), Status> {
    let mut grpc = tonic::client::Grpc::new(channel.clone()).max_decoding_message_size(64 * 1024 * 1024);
    grpc.ready().await.map_err(|error| Status::unknown(error.to_string()))?;
    let request = with(message, authorization);
    let mut stream = grpc.server_streaming(request, path.parse().unwrap(), Raw).await?.into_inner();
    stream.message().await.map(|_| ())
}

/// Begins a call of a method and never sends its message, nor ends it.
pub async fn half(channel: &Channel, path: &str, authorization: Option<&str>) -> Result<(), Status> {
    let mut grpc = tonic::client::Grpc::new(channel.clone());
    grpc.ready().await.map_err(|error| Status::unknown(error.to_string()))?;
    let never = tokio_stream::pending::<Bytes>().fuse();
    let mut stream = grpc.streaming(with(never, authorization), path.parse().unwrap(), Raw).await?.into_inner();
    stream.message().await.map(|_| ())
}
