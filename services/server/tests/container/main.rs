//! The image that `.ci/image` makes, on the container engine of this machine: well, killed, stopped, reached from outside, and over the
//! data of an earlier version.
//!
//! Containers are those of the `testcontainers` library, which speaks to the engine's socket and removes what it started. Nothing is
//! pulled from a registry, and no helper container runs beside them.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod engine;
mod older;
#[path = "../support/mod.rs"]
mod support;

use std::io::Write as _;
use std::path::Path;
use std::time::{Duration, Instant};

use testcontainers::{CopyTargetOptions, ImageExt as _};

use engine::{Engine, Kept, Service, alone, once, published, readable, request, workspace};
use support::{lakebeam, text};

/// Long, and with something stored soon: nothing has to be worked out for neighbours first.
const RUN: [&str; 7] = ["run", "--lure", "tungsten-jig-5", "--fish", "perch-25", "--draws", "20000"];

/// The certificate of a service called `localhost`, of an authority of its own.
fn certificates(dir: &Path) {
    use std::os::unix::fs::PermissionsExt as _;
    let authority_key = rcgen::KeyPair::generate().unwrap();
    let mut authority = rcgen::CertificateParams::new(Vec::<String>::new()).unwrap();
    authority.is_ca = rcgen::IsCa::Ca(rcgen::BasicConstraints::Unconstrained);
    let signed = authority.self_signed(&authority_key).unwrap();
    let issuer = rcgen::Issuer::from_params(&authority, &authority_key);
    let key = rcgen::KeyPair::generate().unwrap();
    let service =
        rcgen::CertificateParams::new(vec!["localhost".to_owned()]).unwrap().signed_by(&key, &issuer).unwrap();
    for (name, pem) in
        [("authority.pem", signed.pem()), ("service.pem", service.pem()), ("service.key", key.serialize_pem())]
    {
        std::fs::write(dir.join(name), pem).unwrap();
        std::fs::set_permissions(dir.join(name), std::fs::Permissions::from_mode(0o644)).unwrap();
    }
    std::fs::set_permissions(dir, std::fs::Permissions::from_mode(0o755)).unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_image_serves_survives_and_stops_in_an_orderly_way() {
    let engine = match Engine::answers().await {
        Ok(engine) => engine,
        Err(missing) => {
            let line = format!(
                "skipped: containers ({missing}); start a container engine that `docker info` reaches, and run again"
            );
            assert!(std::env::var_os("LAKEBEAM_REQUIRE_CONTAINERS").is_none(), "{line}");
            // Past the capture of the test harness, so that it is read.
            writeln!(std::io::stderr(), "{line}").unwrap();
            return;
        }
    };
    let image = engine.image().await;
    let volume = engine.volume("data").await;
    killed_and_stopped(&engine, &image, &volume).await;
    reached_from_outside(&engine, &image, &volume).await;
    upgraded(&engine, &image).await;
}

async fn killed_and_stopped(engine: &Engine, image: &Kept, volume: &Kept) {
    let request = request(image, volume)
        .with_mount(readable(&workspace().join("demo-catalog"), "/demo"))
        .with_host_config_modifier(alone);
    let service = Service::start(engine, request).await;
    let seen = service.seen().await;
    assert_eq!(seen.config.unwrap().user.unwrap(), "10001:10001");
    let host = seen.host_config.unwrap();
    assert_eq!((host.network_mode.as_deref(), host.readonly_rootfs), (Some("none"), Some(true)));
    service.verb(&["import", "/demo/sensors.csv", "/demo/targets.csv", "/demo/spots.csv", "/demo/shelters.csv"]).await;
    let killed = service.in_the_middle_of(&RUN).await;
    service.kill().await;
    assert_eq!(service.container.exit_code().await.unwrap(), Some(137), "128 and SIGKILL");
    service.start_again().await;
    let killed = service.end_of(&killed).await;
    let stopped = service.in_the_middle_of(&RUN).await;
    let start = Instant::now();
    service.container.stop_with_timeout(Some(20)).await.unwrap();
    assert!(start.elapsed() < Duration::from_secs(15), "it was not stopped but killed, after {:?}", start.elapsed());
    assert_eq!(service.container.exit_code().await.unwrap(), Some(0), "SIGTERM is an order to end well");
    service.start_again().await;
    let stopped = service.end_of(&stopped).await;
    service.verb(&RUN).await;
    let undisturbed = service.runs().await.remove(0);
    for run in [&killed, &stopped] {
        assert_eq!(run["result_hash"], undisturbed["result_hash"], "{run}");
        assert_eq!(run["findings_done"], run["findings_total"], "{run}");
    }
    assert_eq!(service.runs().await.len(), 3);
    let run = undisturbed["name"].as_str().unwrap();
    let sheet =
        ["report", run, "--template", "customer-sheet", "--spots", "vesper-landing", "--output", "/data/sheet.pdf"];
    service.verb(&sheet).await;
}

/// Another container takes over the data, and other machines reach it with certificate and token alone: a whole run and its report.
async fn reached_from_outside(engine: &Engine, image: &Kept, volume: &Kept) {
    let dir = tempfile::tempdir().unwrap();
    certificates(dir.path());
    let add = |name: &'static str, role: &'static str| {
        request(image, volume).with_host_config_modifier(alone).with_cmd(["token", "add", name, "--role", role])
    };
    for (name, role) in [("till", "write"), ("window", "read")] {
        std::fs::write(dir.path().join(format!("{name}.token")), once(add(name, role)).await).unwrap();
    }
    let serve = [
        "serve",
        "--listen",
        "0.0.0.0:50071",
        "--tls-certificate",
        "/keys/service.pem",
        "--tls-key",
        "/keys/service.key",
    ];
    let request = request(image, volume)
        .with_mount(readable(dir.path(), "/keys"))
        .with_env_var("LAKEBEAM_SERVER", "https://localhost:50071")
        .with_env_var("LAKEBEAM_SERVER_CA", "/keys/authority.pem")
        .with_host_config_modifier(published)
        .with_cmd(serve);
    let service = Service::start(engine, request).await;
    let url = format!("https://localhost:{}", service.port().await);
    let call = |rest: &[&str]| {
        let to = ["--server", &url, "--server-ca", "authority.pem"];
        lakebeam(dir.path()).args(to).args(rest).output().unwrap()
    };
    let said = |rest: &[&str]| {
        let output = call(rest);
        assert!(output.status.success(), "{rest:?}: {}{}", text(&output.stdout), text(&output.stderr));
        text(&output.stdout)
    };
    let listed = said(&["runs", "--json", "--token-file", "window.token"]);
    assert_eq!(listed.matches("RUN_STATE_SUCCEEDED").count(), 3, "{listed}");
    assert_eq!(call(&["runs"]).status.code(), Some(1), "who has no token hears nothing");
    assert!(call(&["health"]).status.success());
    let run = ["run", "--lure", "tungsten-jig-5", "--fish", "perch-25", "--spots", "vesper-landing,vesper-gravel-fan"];
    assert_eq!(
        call(&[&run[..], &["--token-file", "window.token"]].concat()).status.code(),
        Some(1),
        "who may only read"
    );
    said(&[&run[..], &["--report", "beams.pdf", "--token-file", "till.token"]].concat());
    let pdf = std::fs::read(dir.path().join("beams.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-") && pdf.trim_ascii_end().ends_with(b"%%EOF"), "{} bytes", pdf.len());
    let reports = said(&["reports", "--json", "--token-file", "window.token"]);
    let newest: serde_json::Value = serde_json::from_str(reports.lines().next().unwrap()).unwrap();
    assert_eq!(newest["size_bytes"], pdf.len().to_string(), "{newest}");
    assert_eq!(newest["template"], "templates/comparison", "{newest}");
    assert_eq!(newest["content_hash"], blake3::hash(&pdf).to_hex().as_str(), "{newest}");
    let by = said(&["runs", "--json", "--token-file", "window.token"]);
    assert_eq!(by.matches("RUN_STATE_SUCCEEDED").count(), 4, "{by}");
}

/// A container starts over the file of an earlier version: its records are there, and new ones of kinds that it did not know can
/// be made.
async fn upgraded(engine: &Engine, image: &Kept) {
    let dir = tempfile::tempdir().unwrap();
    let older = older::database(dir.path()).await;
    let volume = engine.volume("older").await;
    // Owned by nobody of the image, as a file that was carried over from another machine may be.
    let copied = CopyTargetOptions::new("/data/lakebeam.db").with_mode(0o666);
    let carrier = request(image, &volume).with_copy_to(copied, older).with_host_config_modifier(alone);
    // Through a container that may be written to: the engine copies into no other.
    once(carrier.with_readonly_rootfs(false).with_cmd(["--version"])).await;
    let request = request(image, &volume)
        .with_mount(readable(&workspace().join("demo-catalog"), "/demo"))
        .with_host_config_modifier(alone);
    let service = Service::start(engine, request).await;
    for (kind, count) in [("sensors", 1), ("spots", 40), ("shelters", 1), ("targets", 1)] {
        let listed = service.verb(&["list", kind, "--json"]).await;
        assert_eq!(listed.lines().count(), count, "{kind}: {listed}");
    }
    assert!(service.runs().await.is_empty(), "results of an older version are dropped");
    service.verb(&["import", "/demo/sensors.csv", "/demo/targets.csv"]).await;
    let run = ["run", "--lure", "tungsten-jig-5", "--fish", "perch-25", "--spots", "vesper-landing"];
    service.verb(&run).await;
    assert_eq!(service.runs().await.len(), 1);
    service.verb(&["import", "/demo/units.csv"]).await;
    assert!(!service.verb(&["list", "units", "--json"]).await.is_empty());
}
