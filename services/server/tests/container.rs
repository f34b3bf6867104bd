//! The image that `.ci/image` makes, on the container engine of this machine: well, killed, stopped, and reached from outside.
//!
//! Through the engine's own command line. A client library of the engine's protocol was weighed: the common one for tests asks `time`,
//! `rand`, `futures` and `tonic` for more features than the binary does, so that the typesetter would be compiled twice.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod support;

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::{Duration, Instant};

use support::lakebeam;

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

/// A container of the image with a volume for its data; nothing but the volume can be written.
struct Service {
    container: Kept,
}

impl Service {
    fn start(what: &str, image: &Kept, volume: &Kept, options: &[&str], arguments: &[&str]) -> Self {
        let container = Kept::new(&["rm", "--force", "--volumes"], what);
        let data = format!("{}:/data", volume.name);
        let fixed =
            ["run", "--detach", "--name", &container.name, "--read-only", "--cap-drop", "ALL", "--volume", &data];
        done(&[&fixed, options, &[&image.name], arguments].concat());
        Self { container }
    }

    fn asks(&self, template: &str) -> String {
        done(&["inspect", "--format", template, &self.container.name])
    }

    fn until(&self, what: &str, holds: impl Fn() -> bool) {
        let start = Instant::now();
        while !holds() {
            let log = String::from_utf8_lossy(&docker(&["logs", &self.container.name]).stderr).into_owned();
            assert!(start.elapsed() < PATIENCE, "not {what} within {PATIENCE:?}: {log}");
            assert_ne!(self.asks("{{.State.Status}}"), "exited", "not {what}: {log}");
        }
    }

    fn is_healthy(&self) {
        self.until("healthy", || self.asks("{{.State.Health.Status}}") == "healthy");
    }

    /// Calls a verb inside the container, as a client of the service there.
    fn verb(&self, arguments: &[&str]) -> String {
        let to = ["exec", &self.container.name, "/usr/bin/lakebeam", "--server", "http://127.0.0.1:50071"];
        done(&[&to, arguments].concat())
    }

    fn runs(&self) -> Vec<serde_json::Value> {
        self.verb(&["runs", "--json"]).lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    /// Starts a long run and gives its name once some of it is stored.
    fn in_the_middle_of_a_run(&self) -> String {
        let to = ["exec", "--detach", &self.container.name, "/usr/bin/lakebeam", "--server", "http://127.0.0.1:50071"];
        done(&[&to, &RUN[..]].concat());
        let newest = || {
            self.runs().into_iter().next().filter(|run| run["state"] == "RUNNING" && run["findings_done"].is_string())
        };
        self.until("running", || newest().is_some());
        newest().map_or_else(|| panic!("the run was over too soon"), |run| run["name"].as_str().unwrap().to_owned())
    }

    fn end_of(&self, run: &str) -> serde_json::Value {
        let ended: serde_json::Value = serde_json::from_str(&self.verb(&["watch", run, "--json"])).unwrap();
        assert_eq!(ended["state"], "SUCCEEDED", "{ended}");
        ended
    }
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

#[test]
fn the_image_serves_survives_and_stops_in_an_orderly_way() {
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
    killed_and_stopped(&image, &volume);
    reached_from_outside(&image, &volume);
}

fn killed_and_stopped(image: &Kept, volume: &Kept) {
    let demo = format!("{}:/demo:ro", workspace().join("demo-catalog").display());
    let service = Service::start("inside", image, volume, &["--network", "none", "--volume", &demo], &[]);
    service.is_healthy();
    assert_eq!(service.asks("{{.Config.User}}"), "10001:10001");
    service.verb(&["import", "/demo/sensors.csv", "/demo/targets.csv", "/demo/spots.csv", "/demo/shelters.csv"]);
    let killed = service.in_the_middle_of_a_run();
    done(&["kill", &service.container.name]);
    assert_eq!(service.asks("{{.State.ExitCode}}"), "137", "128 and SIGKILL");
    done(&["start", &service.container.name]);
    service.is_healthy();
    let killed = service.end_of(&killed);
    let stopped = service.in_the_middle_of_a_run();
    let start = Instant::now();
    done(&["stop", "--time", "20", &service.container.name]);
    assert!(start.elapsed() < Duration::from_secs(15), "it was not stopped but killed, after {:?}", start.elapsed());
    assert_eq!(service.asks("{{.State.ExitCode}}"), "0", "SIGTERM is an order to end well");
    done(&["start", &service.container.name]);
    service.is_healthy();
    let stopped = service.end_of(&stopped);
    service.verb(&RUN);
    let undisturbed = service.runs().remove(0);
    for run in [&killed, &stopped] {
        assert_eq!(run["result_hash"], undisturbed["result_hash"], "{run}");
        assert_eq!(run["findings_done"], run["findings_total"], "{run}");
    }
    assert_eq!(service.runs().len(), 3);
    let run = undisturbed["name"].as_str().unwrap();
    service.verb(&[
        "report",
        run,
        "--template",
        "customer-sheet",
        "--spots",
        "vesper-landing",
        "--output",
        "/data/sheet.pdf",
    ]);
}

/// Another container takes over the data, and other machines reach it with certificate and token alone.
fn reached_from_outside(image: &Kept, volume: &Kept) {
    let dir = tempfile::tempdir().unwrap();
    certificates(dir.path());
    let (data, keys) = (format!("{}:/data", volume.name), format!("{}:/keys:ro", dir.path().display()));
    let token = done(&["run", "--rm", "--volume", &data, &image.name, "token", "add", "till", "--role", "read"]);
    std::fs::write(dir.path().join("till.token"), token).unwrap();
    let options = [
        "--publish",
        "127.0.0.1::50071",
        "--volume",
        &keys,
        "--env",
        "LAKEBEAM_SERVER=https://localhost:50071",
        "--env",
        "LAKEBEAM_SERVER_CA=/keys/authority.pem",
    ];
    let serve = [
        "serve",
        "--listen",
        "0.0.0.0:50071",
        "--tls-certificate",
        "/keys/service.pem",
        "--tls-key",
        "/keys/service.key",
    ];
    let service = Service::start("outside", image, volume, &options, &serve);
    service.is_healthy();
    let port = service.asks("{{(index (index .NetworkSettings.Ports \"50071/tcp\") 0).HostPort}}");
    let url = format!("https://localhost:{port}");
    let call = |rest: &[&str]| {
        let to = ["--server", &url, "--server-ca", "authority.pem"];
        lakebeam(dir.path()).args(to).args(rest).output().unwrap()
    };
    let listed = call(&["runs", "--json", "--token-file", "till.token"]);
    let listed = String::from_utf8_lossy(&listed.stdout).into_owned() + &String::from_utf8_lossy(&listed.stderr);
    assert_eq!(listed.matches("SUCCEEDED").count(), 3, "{listed}");
    assert_eq!(call(&["runs"]).status.code(), Some(1), "who has no token hears nothing");
    assert!(call(&["health"]).status.success());
}
