//! Tables of neighbours are worked out once for a database, whatever happens to the service and to the file that they lie in; and never needed.

use std::path::Path;

use proto::v1;
use proto::v1::selection_service_client::SelectionServiceClient;

use crate::support::{Server, lakebeam};
use crate::{call, catalog, demo, work};

/// The file beside the database.
const FILE: &str = "lakebeam.db-tables";

/// What one start of the service did.
#[derive(Debug, PartialEq)]
struct Start {
    hash: String,
    computed: u64,
    log: String,
}

/// Starts the service, evaluates a shelter of five at all spots, and stops or kills it.
async fn started(dir: &Path, end: fn(&mut Server)) -> Start {
    let log = dir.join("log");
    let serve = ["serve", "--listen", "127.0.0.1:0", "--log", "info"];
    let mut server = Server::start_as(lakebeam(dir).args(serve).stderr(std::fs::File::create(&log).unwrap()));
    let channel = work::connect(&server.url()).await.unwrap();
    let spec = v1::RunSpec {
        spots: (0..work::BASE_SPOTS).map(|number| format!("spots/base-{number}")).collect(),
        options: work::OPTIONS.map(|sensor| format!("sensors/{sensor}")).into(),
        lure: "targets/tungsten-jig-5".to_owned(),
        fish: "targets/perch-25".to_owned(),
        goal: v1::Goal::WatchLure.into(),
        shelter: "shelters/rental-hut-five".to_owned(),
        draws: 8,
        ..v1::RunSpec::default()
    };
    let asked = v1::StartRunRequest { spec: Some(spec), request_id: String::new(), validate_only: false };
    let run = SelectionServiceClient::new(channel.clone()).start_run(asked).await.unwrap().into_inner();
    let hash = work::end_of(&channel, &run.name).await.unwrap();
    drop(channel);
    end(&mut server);
    let log = std::fs::read_to_string(&log).unwrap();
    let computed = log.lines().find_map(|line| line.split_once("computed=")?.1.split_whitespace().next()?.parse().ok());
    Start { hash, computed: computed.unwrap_or(u64::MAX), log }
}

fn stop(server: &mut Server) {
    assert!(server.terminate().1.success());
}

fn shelters(dir: &Path) {
    catalog(dir);
    let (code, said) = call(dir, &["import", &demo("shelters.csv")]);
    assert_eq!(code, 0, "{said}");
}

#[tokio::test]
async fn a_second_start_works_out_no_table_and_a_damaged_file_costs_only_what_is_damaged() {
    let dir = tempfile::tempdir().unwrap();
    shelters(dir.path());
    let file = dir.path().join(FILE);
    let first = started(dir.path(), stop).await;
    assert!(first.computed > 50, "{first:?}");
    let whole = std::fs::read(&file).unwrap();
    let second = started(dir.path(), stop).await;
    assert_eq!((&second.hash, second.computed), (&first.hash, 0), "{}", second.log);
    assert_eq!(std::fs::read(&file).unwrap(), whole);

    // A part of a batch, as a kill leaves it, and one byte that the disk lost.
    let mut cut = whole.get(..whole.len() - 100).unwrap().to_vec();
    *cut.get_mut(1_000).unwrap() ^= 1;
    std::fs::write(&file, cut).unwrap();
    let third = started(dir.path(), stop).await;
    assert_eq!((&third.hash, third.computed), (&first.hash, 2), "{}", third.log);
    assert!(third.log.contains("tables of neighbours are damaged"), "{}", third.log);

    std::fs::write(&file, "what to buy for the weekend: bread, bait, two lines of eight pounds").unwrap();
    let fourth = started(dir.path(), stop).await;
    assert_eq!((&fourth.hash, fourth.computed), (&first.hash, first.computed), "{}", fourth.log);
    assert!(fourth.log.contains("it is replaced"), "{}", fourth.log);
    assert_eq!(started(dir.path(), stop).await.computed, 0);
}

#[tokio::test]
async fn the_service_goes_on_where_they_cannot_be_kept() {
    let dir = tempfile::tempdir().unwrap();
    shelters(dir.path());
    let kept = started(dir.path(), |server| assert!(!server.kill().success())).await;
    let file = dir.path().join(FILE);
    let _ = std::fs::remove_file(&file);
    // Nothing can be written under that name.
    std::fs::create_dir(&file).unwrap();
    let without = started(dir.path(), stop).await;
    assert_eq!(without.hash, kept.hash);
    assert_eq!(without.log.matches("tables of neighbours are not kept").count(), 1, "{}", without.log);
    assert!(without.computed > 50, "{without:?}");
}
