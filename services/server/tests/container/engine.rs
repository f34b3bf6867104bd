//! The container engine of this machine: whether it answers, what it keeps for a test, and a service in a container of it.

use std::future::Future;
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::process::Command;
use std::task::Poll;
use std::time::{Duration, Instant};

use testcontainers::bollard::Docker;
use testcontainers::bollard::models::{ContainerInspectResponse, HostConfig, PortBinding, VolumeCreateRequest};
use testcontainers::bollard::query_parameters::{
    KillContainerOptions, RemoveImageOptions, RemoveImageOptionsBuilder, RemoveVolumeOptions,
};
use testcontainers::core::client::docker_client_instance;
use testcontainers::core::wait::ExitWaitStrategy;
use testcontainers::core::{AccessMode, ExecCommand, Mount, WaitFor};
use testcontainers::runners::AsyncRunner as _;
use testcontainers::{ContainerAsync, ContainerRequest, GenericImage, ImageExt as _};

/// How long a container may take to become what is waited for.
pub(crate) const PATIENCE: Duration = Duration::from_secs(90);
/// How long to wait for an engine that does not answer.
const ANSWERS: Duration = Duration::from_secs(10);
/// The service's port, and how the engine names it.
const PORT: u16 = 50071;
const PORT_NAME: &str = "50071/tcp";

/// The engine, asked in a version of its protocol that it knows.
pub(crate) struct Engine {
    pub(crate) docker: Docker,
    /// Holds the library's connection open: see [`Engine::answers`].
    _hold: Pin<Box<dyn Future<Output = String> + Send>>,
}

impl Engine {
    /// The engine, or why no container can be started.
    ///
    /// The library speaks the newest version of the protocol, which an older engine refuses, and it does not ask for an older one by itself. Its
    /// connection is shared by all containers and forgotten with the last of them; so the version is agreed on while a request is under
    /// way, and that request is never looked at again. It asks for a container of an image that there is not: no engine would make one.
    pub(crate) async fn answers() -> Result<Self, String> {
        let mut hold: Pin<Box<dyn Future<Output = String> + Send>> = Box::pin(async {
            let made = GenericImage::new(name("none").as_str(), "none").start().await;
            made.err().map_or_else(String::new, |refused| refused.to_string())
        });
        let start = Instant::now();
        loop {
            if let Poll::Ready(refused) = futures::poll!(&mut hold) {
                return Err(refused);
            }
            // Until the request has its connection, the connection is not given out.
            match tokio::time::timeout(Duration::from_millis(20), docker_client_instance()).await {
                Ok(docker) => {
                    let agreed = tokio::time::timeout(ANSWERS, docker.map_err(|e| e.to_string())?.negotiate_version());
                    let docker = agreed.await.map_err(|e| e.to_string())?.map_err(|e| e.to_string())?;
                    return Ok(Self { docker, _hold: hold });
                }
                Err(_) if start.elapsed() < ANSWERS => {}
                Err(_) => return Err(format!("it does not answer within {ANSWERS:?}")),
            }
        }
    }

    /// The image of the binary under test, made by `.ci/image` and found by the engine, so that none is asked of a registry.
    pub(crate) async fn image(&self) -> Kept {
        let image = Kept::Image(self.docker.clone(), name("image"));
        let built = Command::new(workspace().join(".ci/image"))
            .arg(env!("CARGO_BIN_EXE_lakebeam"))
            .arg(format!("{}:local", image.name()))
            .output()
            .unwrap();
        assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
        self.docker.inspect_image(&format!("{}:local", image.name())).await.unwrap();
        image
    }

    /// A new volume.
    pub(crate) async fn volume(&self, what: &str) -> Kept {
        let volume = Kept::Volume(self.docker.clone(), name(what));
        let request = VolumeCreateRequest { name: Some(volume.name().to_owned()), ..VolumeCreateRequest::default() };
        self.docker.create_volume(request).await.unwrap();
        volume
    }
}

/// A name that no other test run has.
fn name(what: &str) -> String {
    format!("lakebeam-test-{}-{what}", std::process::id())
}

/// Something that the engine keeps, removed with the test. Containers remove themselves, before it.
pub(crate) enum Kept {
    Image(Docker, String),
    Volume(Docker, String),
}

impl Kept {
    pub(crate) fn name(&self) -> &str {
        let (Self::Image(_, name) | Self::Volume(_, name)) = self;
        name
    }
}

impl Drop for Kept {
    fn drop(&mut self) {
        let removed = async {
            match self {
                Self::Image(docker, name) => {
                    let force: RemoveImageOptions = RemoveImageOptionsBuilder::new().force(true).build();
                    let _ = docker.remove_image(&format!("{name}:local"), Some(force), None).await;
                }
                Self::Volume(docker, name) => {
                    let _ = docker.remove_volume(name, None::<RemoveVolumeOptions>).await;
                }
            }
        };
        tokio::task::block_in_place(|| tokio::runtime::Handle::current().block_on(removed));
    }
}

/// Makes the image's container with a volume for its data; nothing but the volume can be written.
pub(crate) fn request(image: &Kept, volume: &Kept) -> ContainerRequest<GenericImage> {
    GenericImage::new(image.name(), "local")
        .with_mount(Mount::volume_mount(volume.name(), "/data"))
        .with_readonly_rootfs(true)
        .with_cap_drop("ALL")
        .with_startup_timeout(PATIENCE)
}

/// A folder of this machine that the container may read.
pub(crate) fn readable(folder: &Path, at: &str) -> Mount {
    Mount::bind_mount(folder.display().to_string(), at).with_access_mode(AccessMode::ReadOnly)
}

/// Nobody outside the container reaches it.
pub(crate) fn alone(host: &mut HostConfig) {
    host.network_mode = Some("none".to_owned());
    host.publish_all_ports = Some(false);
}

/// Only this machine reaches its port.
pub(crate) fn published(host: &mut HostConfig) {
    let binding = PortBinding { host_ip: Some("127.0.0.1".to_owned()), host_port: Some(String::new()) };
    host.publish_all_ports = Some(false);
    host.port_bindings = Some([(PORT_NAME.to_owned(), Some(vec![binding]))].into());
}

/// A container that ends by itself, and what it printed.
pub(crate) async fn once(request: ContainerRequest<GenericImage>) -> String {
    let ended = WaitFor::exit(ExitWaitStrategy::new().with_exit_code(0));
    let container = request.with_ready_conditions(vec![ended]).start().await.unwrap();
    String::from_utf8(container.stdout_to_vec().await.unwrap()).unwrap().trim().to_owned()
}

/// A service in a container.
pub(crate) struct Service {
    pub(crate) container: ContainerAsync<GenericImage>,
    docker: Docker,
}

impl Service {
    /// Starts it and waits until the engine finds it healthy.
    pub(crate) async fn start(engine: &Engine, request: ContainerRequest<GenericImage>) -> Self {
        let container = request.with_ready_conditions(vec![WaitFor::healthcheck()]).start().await.unwrap();
        Self { container, docker: engine.docker.clone() }
    }

    pub(crate) async fn seen(&self) -> ContainerInspectResponse {
        self.docker.inspect_container(self.container.id(), None).await.unwrap()
    }

    async fn log(&self) -> String {
        String::from_utf8_lossy(&self.container.stderr_to_vec().await.unwrap()).into_owned()
    }

    /// Kills it where it stands, as a loss of power would.
    pub(crate) async fn kill(&self) {
        self.docker.kill_container(self.container.id(), None::<KillContainerOptions>).await.unwrap();
        // The engine answers once the signal is sent, not once it has worked.
        let start = Instant::now();
        while self.container.is_running().await.unwrap() {
            assert!(start.elapsed() < PATIENCE, "it lives on");
        }
    }

    /// Starts it again and waits until the engine finds it healthy.
    pub(crate) async fn start_again(&self) {
        self.container.start().await.unwrap();
        let healthy = ExecCommand::new(["/usr/bin/lakebeam", "--version"]);
        let healthy = healthy.with_container_ready_conditions(vec![WaitFor::healthcheck()]);
        let waited = tokio::time::timeout(PATIENCE, self.container.exec(healthy)).await;
        let failed = match waited {
            Ok(Ok(_)) => return,
            Ok(Err(error)) => error.to_string(),
            Err(late) => late.to_string(),
        };
        panic!("not healthy again ({failed}): {}", self.log().await);
    }

    /// Calls a verb inside the container, as a client of the service there.
    pub(crate) async fn verb(&self, arguments: &[&str]) -> String {
        let mut called = self.container.exec(command(arguments)).await.unwrap();
        let said = String::from_utf8(called.stdout_to_vec().await.unwrap()).unwrap();
        let complained = String::from_utf8(called.stderr_to_vec().await.unwrap()).unwrap();
        assert_eq!(called.exit_code().await.unwrap(), Some(0), "{arguments:?}: {said}{complained}");
        said
    }

    pub(crate) async fn runs(&self) -> Vec<serde_json::Value> {
        self.verb(&["runs", "--json"]).await.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    /// Starts a long run and gives its name once some of it is stored.
    pub(crate) async fn in_the_middle_of(&self, run: &[&str]) -> String {
        let _under_way = self.container.exec(command(run)).await.unwrap();
        let start = Instant::now();
        loop {
            let newest = self.runs().await.into_iter().next();
            if let Some(run) =
                newest.filter(|run| run["state"] == "RUN_STATE_RUNNING" && run["findings_done"].is_string())
            {
                return run["name"].as_str().unwrap().to_owned();
            }
            assert!(start.elapsed() < PATIENCE, "not in the middle of a run: {}", self.log().await);
        }
    }

    pub(crate) async fn end_of(&self, run: &str) -> serde_json::Value {
        let ended: serde_json::Value = serde_json::from_str(&self.verb(&["watch", run, "--json"]).await).unwrap();
        assert_eq!(ended["state"], "RUN_STATE_SUCCEEDED", "{ended}");
        ended
    }

    /// The port of this machine that leads to the service.
    pub(crate) async fn port(&self) -> u16 {
        self.container.get_host_port_ipv4(PORT).await.unwrap()
    }
}

fn command(arguments: &[&str]) -> ExecCommand {
    let to = ["/usr/bin/lakebeam", "--server", "http://127.0.0.1:50071"];
    ExecCommand::new(to.iter().chain(arguments).map(|argument| (*argument).to_owned()))
}

pub(crate) fn workspace() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}
