//! A run as it is stored: by its name, and as the protocol has it.

use catalog::StoredRun;
use prost::Message as _;
use proto::v1;

use crate::context::Shared;
use crate::convert::run::state;
use crate::error::Error;
use crate::ids;
use crate::resource::timestamp;

/// The run of a name.
pub(crate) async fn stored_run(shared: &Shared, field: &str, name: &str) -> Result<StoredRun, Error> {
    let id = ids::read(shared, field, "runs", name).await?;
    Ok(shared.store().run(id.as_str()).await?)
}

/// A run as the protocol has it.
pub(crate) fn run_message(run: &StoredRun) -> Result<v1::Run, Error> {
    let spec = v1::RunSpec::decode(run.spec.as_slice()).map_err(Error::internal)?;
    Ok(v1::Run {
        name: format!("runs/{}", run.id),
        spec: Some(spec),
        state: state(run.state).into(),
        spot_count: i32::try_from(run.spot_count).unwrap_or(i32::MAX),
        option_count: i32::try_from(run.option_count).unwrap_or(i32::MAX),
        findings_done: i64::try_from(run.findings_done).unwrap_or(i64::MAX),
        findings_total: i64::try_from(run.findings_total()).unwrap_or(i64::MAX),
        error: run.error.clone(),
        create_time: Some(timestamp(run.create_time)),
        start_time: run.start_time.map(timestamp),
        end_time: run.end_time.map(timestamp),
        result_hash: run.result_hash.clone(),
    })
}
