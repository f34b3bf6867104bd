//! The protobuf JSON mapping of any message, by the descriptor set.

use std::sync::LazyLock;

use prost::{Message, Name};
use prost_reflect::{DescriptorPool, DynamicMessage, SerializeOptions};

use super::shown::escaped_json;
use crate::exit::CliError;

static POOL: LazyLock<Option<DescriptorPool>> =
    LazyLock::new(|| DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET).ok());

/// The message as one line of JSON.
pub(crate) fn line<M: Message + Name>(message: &M) -> Result<String, CliError> {
    let fail = |what: String| CliError::Usage(format!("{} cannot be written as JSON: {what}", M::full_name()));
    let descriptor = POOL
        .as_ref()
        .and_then(|pool| pool.get_message_by_name(&M::full_name()))
        .ok_or_else(|| fail("its description is missing".to_owned()))?;
    let dynamic =
        DynamicMessage::decode(descriptor, message.encode_to_vec().as_slice()).map_err(|e| fail(e.to_string()))?;
    let mut out = Vec::new();
    // Field names as in the .proto files, whose names carry the units; defaults left out.
    let options = SerializeOptions::new().use_proto_field_name(true);
    dynamic
        .serialize_with_options(&mut serde_json::Serializer::new(&mut out), &options)
        .map_err(|e| fail(e.to_string()))?;
    String::from_utf8(out).map_err(|e| fail(e.to_string()))
}

/// Prints the message as one line.
pub(crate) fn print<M: Message + Name>(message: &M) -> Result<(), CliError> {
    println!("{}", escaped_json(&line(message)?));
    Ok(())
}
