//! The image that `.ci/image` makes, on the container engine of this machine: well, killed, stopped, and reached from outside.
//!
//! Nothing is pulled: the image comes from the binary under test, and the containers are removed by name, without a helper's image.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod support;

use std::io::Write as _;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::{Duration, Instant};

use sqlx::migrate::Migrator;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Connection as _};
use support::{lakebeam, said};
use testcontainers::bollard::Docker;
use testcontainers::bollard::models::{ContainerState, HealthStatusEnum};
use testcontainers::bollard::query_parameters::InspectContainerOptions;
use testcontainers::core::client::docker_client_instance;
use testcontainers::core::{AccessMode, ExecCommand, IntoContainerPort as _, Mount, WaitFor};
use testcontainers::runners::AsyncRunner as _;
use testcontainers::{ContainerAsync, ContainerRequest, GenericImage, ImageExt as _};

/// How long a container may take to become what is waited for.
const PATIENCE: Duration = Duration::from_secs(90);
const RUN: [&str; 9] =
    ["run", "--lure", "tungsten-jig-5", "--fish", "perch-25", "--shelter", "rental-hut-five", "--draws", "600"];

fn docker(arguments: &[&str]) -> Output {
    Command::new("docker").args(arguments).output().unwrap()
}

/// Ends well, and gives what it printed.
fn done(arguments: &[&str]) -> String {
    let output = docker(arguments);
    let [said, complained] = [&output.stdout, &output.stderr].map(|bytes| String::from_utf8_lossy(bytes).into_owned());
    assert!(output.status.success(), "docker {arguments:?}: {said}{complained}");
    said.trim().to_owned()
}

/// Why no container can be started; none when they can.
fn missing() -> Option<String> {
    match Command::new("docker").args(["info", "--format", "{{.ServerVersion}}"]).output() {
        Ok(output) if output.status.success() => None,
        Ok(output) => {
            Some(String::from_utf8_lossy(&output.stderr).lines().next().unwrap_or("it does not answer").to_owned())
        }
        Err(error) => Some(format!("docker: {error}")),
    }
}

/// Something that the engine keeps, removed with the test.
struct Kept {
    remove: &'static [&'static str],
    name: String,
}

impl Kept {
    /// A name that no other test run has.
    fn new(remove: &'static [&'static str], what: &str) -> Self {
        Self { remove, name: format!("lakebeam-test-{}-{what}", std::process::id()) }
    }
}

impl Drop for Kept {
    fn drop(&mut self) {
        let _ = docker(&[self.remove, &[&self.name]].concat());
    }
}

/// A container of the image; it ends with the test.
struct Service {
    container: ContainerAsync<GenericImage>,
}

impl Service {
    /// What every container here is started with: nothing but its mounts can be written.
    fn request(image: &Kept) -> ContainerRequest<GenericImage> {
        GenericImage::new(image.name.as_str(), "latest")
            .with_wait_for(WaitFor::healthcheck())
            .with_startup_timeout(PATIENCE)
            .with_readonly_rootfs(true)
            .with_cap_drop("ALL")
    }

    async fn start(request: ContainerRequest<GenericImage>) -> Self {
        Self { container: request.start().await.unwrap() }
    }

    async fn state(&self) -> ContainerState {
        let options = None::<InspectContainerOptions>;
        let inspected = engine().await.inspect_container(self.container.id(), options).await.unwrap();
        inspected.state.unwrap()
    }

    /// Starts it again once it has ended, and waits until it calls itself healthy.
    async fn again(&self) {
        self.container.start().await.unwrap();
        let start = Instant::now();
        while self.state().await.health.and_then(|health| health.status) != Some(HealthStatusEnum::HEALTHY) {
            let log = String::from_utf8_lossy(&self.container.stderr_to_vec().await.unwrap()).into_owned();
            assert!(start.elapsed() < PATIENCE, "not healthy within {PATIENCE:?}: {log}");
            assert_ne!(self.state().await.running, Some(false), "{log}");
        }
    }

    /// Calls a verb inside the container, as a client of the service there.
    async fn verb(&self, arguments: &[&str]) -> String {
        let mut done = self.container.exec(inside(arguments)).await.unwrap();
        let said = String::from_utf8(done.stdout_to_vec().await.unwrap()).unwrap();
        let complained = String::from_utf8(done.stderr_to_vec().await.unwrap()).unwrap();
        assert_eq!(done.exit_code().await.unwrap(), Some(0), "{arguments:?}: {said}{complained}");
        said
    }

    async fn runs(&self) -> Vec<serde_json::Value> {
        self.verb(&["runs", "--json"]).await.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    /// Starts a long run and gives its name once some of it is stored.
    async fn in_the_middle_of_a_run(&self) -> String {
        // The verb goes on in the container, whoever reads it.
        let _follows = self.container.exec(inside(&RUN)).await.unwrap();
        let start = Instant::now();
        loop {
            let newest = self.runs().await.into_iter().next();
            if let Some(run) = newest.filter(|run| run["state"] == "RUNNING" && run["findings_done"].is_string()) {
                return run["name"].as_str().unwrap().to_owned();
            }
            assert!(start.elapsed() < PATIENCE, "no run was met in its middle");
        }
    }

    async fn end_of(&self, run: &str) -> serde_json::Value {
        let ended: serde_json::Value = serde_json::from_str(&self.verb(&["watch", run, "--json"]).await).unwrap();
        assert_eq!(ended["state"], "SUCCEEDED", "{ended}");
        ended
    }
}

/// A verb for the service in the same container.
fn inside(arguments: &[&str]) -> ExecCommand {
    ExecCommand::new([&["/usr/bin/lakebeam", "--server", "http://127.0.0.1:50071"], arguments].concat())
}

async fn engine() -> Docker {
    docker_client_instance().await.unwrap()
}

fn workspace() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}

/// The image of the binary under test.
fn image() -> Kept {
    let image = Kept::new(&["image", "rm", "--force"], "image");
    let built =
        Command::new(workspace().join(".ci/image")).arg(env!("CARGO_BIN_EXE_lakebeam")).arg(&image.name).output();
    let built = built.unwrap();
    assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
    image
}

/// The certificate of a service called `localhost`, of an authority of its own.
fn certificates(dir: &Path) {
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
    if let Some(missing) = missing() {
        let line = format!(
            "skipped: containers ({missing}); start a container engine that `docker info` reaches, and run again"
        );
        assert!(std::env::var_os("LAKEBEAM_REQUIRE_CONTAINERS").is_none(), "{line}");
        // Past the capture of the test harness, so that it is read.
        writeln!(std::io::stderr(), "{line}").unwrap();
        return;
    }
    let image = image();
    let volume = Kept::new(&["volume", "rm", "--force"], "data");
    killed_and_stopped(&image, &volume).await;
    reached_from_outside(&image, &volume).await;
    taken_over_from_an_older_release(&image).await;
}

async fn killed_and_stopped(image: &Kept, volume: &Kept) {
    let demo = Mount::bind_mount(workspace().join("demo-catalog").display().to_string(), "/demo");
    let request = Service::request(image)
        .with_network("none")
        .with_mount(Mount::volume_mount(volume.name.as_str(), "/data"))
        .with_mount(demo.with_access_mode(AccessMode::ReadOnly));
    let service = Service::start(request).await;
    let inspected = engine().await.inspect_container(service.container.id(), None::<InspectContainerOptions>).await;
    assert_eq!(inspected.unwrap().config.unwrap().user.as_deref(), Some("10001:10001"));
    service.verb(&["import", "/demo/sensors.csv", "/demo/targets.csv", "/demo/spots.csv", "/demo/shelters.csv"]).await;

    let killed = service.in_the_middle_of_a_run().await;
    engine().await.kill_container(service.container.id(), None).await.unwrap();
    assert_eq!(service.state().await.exit_code, Some(137), "128 and SIGKILL");
    service.again().await;
    let killed = service.end_of(&killed).await;

    let stopped = service.in_the_middle_of_a_run().await;
    let start = Instant::now();
    service.container.stop_with_timeout(Some(20)).await.unwrap();
    assert!(start.elapsed() < Duration::from_secs(15), "it was not stopped but killed, after {:?}", start.elapsed());
    assert_eq!(service.state().await.exit_code, Some(0), "SIGTERM is an order to end well");
    service.again().await;
    let stopped = service.end_of(&stopped).await;

    service.verb(&RUN).await;
    let undisturbed = service.runs().await.remove(0);
    for run in [&killed, &stopped] {
        assert_eq!(run["result_hash"], undisturbed["result_hash"], "{run}");
        assert_eq!(run["findings_done"], run["findings_total"], "{run}");
    }
    assert_eq!(service.runs().await.len(), 3);
    let run = undisturbed["name"].as_str().unwrap();
    let sheet = ["--template", "customer-sheet", "--spots", "vesper-landing", "--output", "/data/sheet.pdf"];
    service.verb(&[&["report", run], &sheet[..]].concat()).await;
}

/// Another container takes over the data, and other machines reach it with certificate and token alone.
async fn reached_from_outside(image: &Kept, volume: &Kept) {
    let dir = tempfile::tempdir().unwrap();
    certificates(dir.path());
    let data = format!("{}:/data", volume.name);
    for (name, role) in [("till", "read"), ("counter", "write")] {
        let token = done(&["run", "--rm", "--volume", &data, &image.name, "token", "add", name, "--role", role]);
        std::fs::write(dir.path().join(format!("{name}.token")), token).unwrap();
    }
    let keys = Mount::bind_mount(dir.path().display().to_string(), "/keys").with_access_mode(AccessMode::ReadOnly);
    let serve = ["serve", "--listen", "0.0.0.0:50071"];
    let tls = ["--tls-certificate", "/keys/service.pem", "--tls-key", "/keys/service.key"];
    let request = Service::request(image)
        .with_mount(Mount::volume_mount(volume.name.as_str(), "/data"))
        .with_mount(keys)
        .with_env_var("LAKEBEAM_SERVER", "https://localhost:50071")
        .with_env_var("LAKEBEAM_SERVER_CA", "/keys/authority.pem")
        .with_mapped_port(0, 50_071.tcp())
        .with_cmd(serve.into_iter().chain(tls));
    let service = Service::start(request).await;
    let port = service.container.get_host_port_ipv4(50_071.tcp()).await.unwrap();
    let url = format!("https://localhost:{port}");
    let call = |rest: &[&str]| {
        let to = ["--server", &url, "--server-ca", "authority.pem"];
        lakebeam(dir.path()).args(to).args(rest).output().unwrap()
    };
    let said = |rest: &[&str], token: &str| {
        let output = call(&[rest, &["--token-file", token]].concat());
        let [said, complained] = [output.stdout, output.stderr].map(|bytes| String::from_utf8(bytes).unwrap());
        assert!(output.status.success(), "{rest:?}: {said}{complained}");
        said
    };
    assert_eq!(said(&["runs", "--json"], "till.token").matches("SUCCEEDED").count(), 3);
    assert_eq!(call(&["runs"]).status.code(), Some(1), "who has no token hears nothing");
    let refused = call(&[&RUN[..], &["--token-file", "till.token"]].concat());
    assert_eq!(refused.status.code(), Some(1), "who may read starts no run");
    assert!(call(&["health"]).status.success());

    // The whole job from outside: a run, and its report.
    said(&[&RUN[..], &["--report", "comparison.pdf"]].concat(), "counter.token");
    let pdf = std::fs::read(dir.path().join("comparison.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-") && pdf.len() > 20_000, "{} bytes", pdf.len());
    let runs = said(&["runs", "--json"], "till.token");
    assert_eq!(runs.matches("SUCCEEDED").count(), 4);
    let hash = |line: &str| serde_json::from_str::<serde_json::Value>(line).unwrap()["result_hash"].clone();
    let hashes: Vec<_> = runs.lines().map(hash).collect();
    assert!(hashes.iter().all(|other| *other == hashes[0]), "{hashes:?}");
}

/// A database of the release before units, bookings and tokens is taken over with all that was in it.
async fn taken_over_from_an_older_release(image: &Kept) {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    std::fs::create_dir(&data).unwrap();
    let demo = workspace().join("demo-catalog");
    let files = ["sensors.csv", "targets.csv", "spots.csv", "shelters.csv"].map(|file| demo.join(file));
    let files = files.iter().map(|file| file.to_str().unwrap());
    said(dir.path(), &["--database", "now.db", "import"].into_iter().chain(files).collect::<Vec<_>>());
    older(&dir.path().join("now.db"), &data.join("lakebeam.db"), dir.path()).await;
    // Whatever user the image has.
    std::fs::set_permissions(&data, std::fs::Permissions::from_mode(0o777)).unwrap();
    std::fs::set_permissions(data.join("lakebeam.db"), std::fs::Permissions::from_mode(0o666)).unwrap();
    let request =
        Service::request(image).with_network("none").with_mount(Mount::bind_mount(data.display().to_string(), "/data"));
    let service = Service::start(request).await;
    let listed = service.verb(&["list", "spots", "--json"]).await;
    assert_eq!(listed.lines().count(), 40, "{listed}");
    assert!(service.verb(&["list", "units", "--json"]).await.is_empty());
    service.verb(&RUN).await;
    assert_eq!(service.runs().await[0]["state"], "SUCCEEDED");
}

/// A file as the third migration left it, with the records of another.
async fn older(from: &Path, to: &Path, dir: &Path) {
    let first = dir.join("migrations");
    std::fs::create_dir(&first).unwrap();
    for entry in std::fs::read_dir(workspace().join("migrations")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if name.as_str() < "0004" {
            std::fs::copy(&path, first.join(name)).unwrap();
        }
    }
    let mut file = SqliteConnectOptions::new().filename(to).create_if_missing(true).connect().await.unwrap();
    Migrator::new(first).await.unwrap().run(&mut file).await.unwrap();
    sqlx::query("ATTACH ? AS now").bind(from.to_str().unwrap()).execute(&mut file).await.unwrap();
    let copied = "INSERT INTO sensors SELECT * FROM now.sensors; INSERT INTO spots SELECT * FROM now.spots; \
                  INSERT INTO shelters SELECT * FROM now.shelters; INSERT INTO targets SELECT * FROM now.targets;";
    sqlx::raw_sql(copied).execute(&mut file).await.unwrap();
    file.close().await.unwrap();
}
