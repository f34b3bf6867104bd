//! How messages come off the wire. A request is looked at where it lies before anything is made of it: an empty entry of a list is two bytes there and hundreds in memory, so
//! that four MiB would become a gigabyte.

use std::marker::PhantomData;
use std::sync::LazyLock;

use prost::bytes::Buf as _;
use prost::encoding::{DecodeContext, WireType, decode_key, decode_varint, skip_field};
use prost::{DecodeError, Message, Name};
use prost_reflect::{DescriptorPool, Kind, MessageDescriptor};
use tonic::Status;
use tonic::codec::{BufferSettings, Codec, DecodeBuf, Decoder};
use tonic_prost::{ProstDecoder, ProstEncoder};

/// Most entries that all lists of one request have together. Lists have closer limits, which the checks name; this one keeps the way there short.
pub const MOST_ENTRIES: usize = 200_000;
/// How the messages of a request are nested at most.
const MOST_NESTED: usize = 32;

/// The codec of all methods: answers are read as they are, requests within the bound.
#[derive(Debug, Clone)]
pub struct BoundedCodec<T, U>(PhantomData<(T, U)>);

impl<T, U> Default for BoundedCodec<T, U> {
    fn default() -> Self {
        Self(PhantomData)
    }
}

impl<T, U> Codec for BoundedCodec<T, U>
where
    T: Message + Send + 'static,
    U: Message + Name + Default + Send + 'static,
{
    type Encode = T;
    type Decode = U;
    type Encoder = ProstEncoder<T>;
    type Decoder = BoundedDecoder<U>;

    fn encoder(&mut self) -> Self::Encoder {
        ProstEncoder::default()
    }

    fn decoder(&mut self) -> Self::Decoder {
        BoundedDecoder(ProstDecoder::default())
    }
}

/// Reads messages of one type.
#[derive(Debug, Clone)]
pub struct BoundedDecoder<U>(ProstDecoder<U>);

impl<U: Message + Name + Default> Decoder for BoundedDecoder<U> {
    type Item = U;
    type Error = Status;

    fn decode(&mut self, buf: &mut DecodeBuf<'_>) -> Result<Option<U>, Status> {
        // A short message cannot hold so many: an entry has one byte at least.
        if U::NAME.ends_with("Request") && buf.remaining() > MOST_ENTRIES {
            let message = POOL.as_ref().and_then(|pool| pool.get_message_by_name(&U::full_name()));
            let whole = buf.chunk();
            if let Some(message) = message
                && whole.len() == buf.remaining()
            {
                // What does not decode here does not there either, and the library says so.
                count(whole, &message, MOST_NESTED, &mut 0).or_else(|stop| match stop {
                    Stop::TooMany(name) => Err(Status::internal(format!(
                        "failed to decode Protobuf message: with {name} it has over {MOST_ENTRIES} entries in its lists"
                    ))),
                    Stop::Broken => Ok(()),
                })?;
            }
        }
        self.0.decode(buf)
    }

    fn buffer_settings(&self) -> BufferSettings {
        self.0.buffer_settings()
    }
}

static POOL: LazyLock<Option<DescriptorPool>> =
    LazyLock::new(|| DescriptorPool::decode(crate::FILE_DESCRIPTOR_SET).ok());

/// Why counting ends early.
#[derive(Debug)]
enum Stop {
    /// Too many, at the list of this name.
    TooMany(String),
    /// It does not decode.
    Broken,
}

impl From<DecodeError> for Stop {
    fn from(_: DecodeError) -> Self {
        Self::Broken
    }
}

/// Adds up the entries of all lists of an encoded message.
fn count(mut bytes: &[u8], message: &MessageDescriptor, depth: usize, entries: &mut usize) -> Result<(), Stop> {
    let depth = depth.checked_sub(1).ok_or(Stop::Broken)?;
    // Entries of a list stand side by side.
    let mut latest = None;
    while bytes.has_remaining() {
        let (number, wire) = decode_key(&mut bytes)?;
        if latest.as_ref().is_none_or(|(known, _)| *known != number) {
            latest = Some((number, message.get_field(number)));
        }
        let field = latest.as_ref().and_then(|(_, field)| field.as_ref());
        let content = if wire == WireType::LengthDelimited {
            let length = usize::try_from(decode_varint(&mut bytes)?).unwrap_or(usize::MAX);
            let (content, rest) = bytes.split_at_checked(length).ok_or(Stop::Broken)?;
            bytes = rest;
            content
        } else {
            skip_field(wire, number, &mut bytes, DecodeContext::default())?;
            &[]
        };
        let Some(field) = field else { continue };
        let inner = match field.kind() {
            Kind::Message(inner) => Some(inner),
            _ => None,
        };
        if field.is_list() || field.is_map() {
            *entries += 1;
            if *entries > MOST_ENTRIES {
                return Err(Stop::TooMany(field.name().to_owned()));
            }
        }
        if let Some(inner) = inner {
            count(content, &inner, depth, entries)?;
        }
    }
    Ok(())
}
