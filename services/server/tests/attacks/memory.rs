//! Calls that would take gigabytes: what a short message may make of itself, and what one computation may hold.

use std::path::Path;
use std::time::Duration;

use prost::Message as _;
use prost::bytes::{BufMut as _, Bytes};
use prost::encoding::{WireType, encode_key, encode_varint};
use prost_reflect::{DescriptorPool, Kind, MessageDescriptor};
use proto::v1;
use tonic::Code;

use crate::support::{Server, said};
use crate::token;
use tests::kit::raw::{call, connect};

/// What a service with nothing else to do may ever take, MiB.
const MOST_MIB: u64 = 600;
/// Nearly the longest message that is taken.
const LONG: usize = 4_000_000;

/// The most that a process has ever had in memory, MiB.
pub(crate) fn peak_mib(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
    line.trim().trim_end_matches("kB").trim().parse::<u64>().unwrap() / 1024
}

/// A message whose first list of messages, or that of a message in it, has as many empty entries as fit: two bytes each, of which a reader makes hundreds.
pub(crate) fn nothings(message: &MessageDescriptor, bytes: usize, depth: usize) -> Option<Vec<u8>> {
    for field in message.fields().filter(|field| !field.is_map()) {
        let Kind::Message(inner) = field.kind() else { continue };
        let mut made = Vec::new();
        if field.is_list() {
            let mut entry = Vec::new();
            encode_key(field.number(), WireType::LengthDelimited, &mut entry);
            encode_varint(0, &mut entry);
            (0..bytes / entry.len()).for_each(|_| made.put_slice(&entry));
            return Some(made);
        }
        if let Some(inside) = depth.checked_sub(1).and_then(|depth| nothings(&inner, bytes - 16, depth)) {
            encode_key(field.number(), WireType::LengthDelimited, &mut made);
            encode_varint(inside.len() as u64, &mut made);
            made.put_slice(&inside);
            return Some(made);
        }
    }
    None
}

#[tokio::test(flavor = "multi_thread")]
async fn millions_of_empty_entries_are_refused_before_they_are_made() {
    let dir = tempfile::tempdir().unwrap();
    let admin = token(dir.path(), "warden", "admin");
    let server = Server::start(dir.path(), &[]);
    let pool = DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET).unwrap();
    let mut fits = 0;
    for method in pool.services().flat_map(|service| service.methods().collect::<Vec<_>>()) {
        let Some(message) = nothings(&method.input(), LONG, 3).map(Bytes::from) else { continue };
        let path = format!("/{}/{}", method.parent_service().full_name(), method.name());
        let calls = (0..3).map(|_| {
            let (url, admin, path, message) = (server.url(), admin.clone(), path.clone(), message.clone());
            async move { call(&connect(&url).await, &path, Some(&admin), message).await }
        });
        for outcome in futures::future::join_all(calls).await {
            let refused = outcome.unwrap_err();
            assert_eq!(refused.code(), Code::InvalidArgument, "{path}: {refused:?}");
        }
        let most = peak_mib(server.process());
        assert!(most < MOST_MIB, "{path}: {most} MiB");
        fits += 1;
    }
    println!("{fits} methods, at most {} MiB", peak_mib(server.process()));
    assert!(fits > 5, "only {fits} methods have a list of messages");
}

/// A file of sensors that all differ, so that no two share a table.
pub(crate) fn sensors(count: usize) -> String {
    let head = "id,display_name,threshold_db,max_gain_db,ping_interval_ms,option_id,option_display_name,frequency_khz,shape,beamwidth_deg,beamwidth_level,electrical_power_w,efficiency_percent,pulse_length_us\n";
    let row = |n: usize| {
        let (hundredths, frequency) = (600 + 9 * n, 180 + n % 4 * 40);
        let degrees = format!("{}.{:02}", hundredths / 100, hundredths % 100);
        format!(
            "s{n},Sensor {n},150,70,{},main,Main,{frequency},circular_piston,{degrees},minus_3_db,40,50,100\n",
            90 + n % 30
        )
    };
    std::iter::once(head.to_owned()).chain((0..count).map(row)).collect()
}

/// Rules of all sensors that there are, over soft and hard bottoms.
pub(crate) fn rules() -> v1::DeriveShelterRulesRequest {
    let shelters = ["pop-up-two", "sled-tent-three", "rental-hut-five", "event-tent-ten"];
    let spec = v1::RulesSpec {
        shelters: shelters.map(|shelter| format!("shelters/{shelter}")).into(),
        lure: "targets/tungsten-jig-5".to_owned(),
        bands: [(2.0, 5.0), (5.0, 9.0)].map(|(shallow_m, deep_m)| v1::DepthBand { shallow_m, deep_m }).into(),
        bottom_classes: vec![v1::BottomClass::Silt.into(), v1::BottomClass::MediumSand.into()],
        ..v1::RulesSpec::default()
    };
    v1::DeriveShelterRulesRequest { spec: Some(spec) }
}

/// Targets and shelters of the demo, and many sensors.
pub(crate) fn import_sensors(dir: &Path, count: usize) {
    std::fs::write(dir.join("sensors.csv"), sensors(count)).unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog");
    let demo = |file: &str| demo.join(file).display().to_string();
    said(dir, &["import", "sensors.csv", &demo("targets.csv"), &demo("shelters.csv")]);
}

#[tokio::test(flavor = "multi_thread")]
async fn rules_of_options_that_all_differ_keep_to_their_memory() {
    let dir = tempfile::tempdir().unwrap();
    import_sensors(dir.path(), 48);
    let server = Server::start(dir.path(), &[]);
    let channel = connect(&server.url()).await;
    let rules: Bytes = rules().encode_to_vec().into();
    // Two at once, for as long as a call without a budget needs to fill gigabytes.
    let calls = (0..2).map(|_| {
        let asked = call(&channel, "/lakebeam.v1.RulesService/DeriveShelterRules", None, rules.clone());
        tokio::time::timeout(Duration::from_secs(25), asked)
    });
    let ended = futures::future::join_all(calls).await;
    assert!(ended.iter().all(Result::is_err), "too little work to say anything: {ended:?}");
    let most = peak_mib(server.process());
    println!("at most {most} MiB");
    assert!(most < MOST_MIB, "{most} MiB");
}
