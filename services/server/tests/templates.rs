//! Templates of one's own through the real binary: listed, checked, previewed, kept within their limits; contracts and languages.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod support;

use std::path::Path;
use std::process::Output;
use std::time::{Duration, Instant};

use serde_json::Value;
use support::{Server, lakebeam};

fn call(dir: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let Output { status, stdout, stderr } = lakebeam(dir).args(arguments).output().unwrap();
    (status.code(), String::from_utf8(stdout).unwrap() + &String::from_utf8(stderr).unwrap())
}

fn said(dir: &Path, arguments: &[&str]) -> String {
    let (code, text) = call(dir, arguments);
    assert_eq!(code, Some(0), "{arguments:?}: {text}");
    text
}

/// A folder with templates in `own`.
fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = dir.path().join("own").join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    dir
}

/// A loop that the typesetter does not see through, unlike `#while true {}`.
const ENDLESS: &str = "#set document(title: \"x\")\n#for i in range(1000000) { for j in range(1000000) { } }\n";

const SHOP: &str =
    "#set document(title: \"Shop\")\n#set text(lang: json(\"/data.json\").at(\"language\", default: \"en\"))\n= Shop\n";

#[test]
fn a_template_of_ones_own_is_listed_checked_and_previewed() {
    let dir = folder(&[
        ("shop/main.typ", SHOP),
        ("shop/sample.json", "{}"),
        ("shop/template.toml", "title = \"Shop sheet\"\nreports-on = \"fleetPlans\"\n"),
        ("broken/main.typ", "#set document(title: \"x\")\n  #nothing\n"),
    ]);
    let own = ["--templates", "own"];
    let listed = said(dir.path(), &[&["template", "list"], own.as_slice()].concat());
    for part in ["Shop sheet", "fleetPlans", "your folder", "built in", "Languages: de, en."] {
        assert!(listed.contains(part), "{part}: {listed}");
    }
    let checked = said(dir.path(), &[&["template", "check", "shop"], own.as_slice()].concat());
    assert!(checked.contains("1 page"), "{checked}");
    said(dir.path(), &[&["template", "preview", "shop", "--output", "shop.pdf"], own.as_slice()].concat());
    assert!(std::fs::read(dir.path().join("shop.pdf")).unwrap().starts_with(b"%PDF"));
    let (code, fault) = call(dir.path(), &[&["template", "check", "broken"], own.as_slice()].concat());
    assert_eq!(code, Some(4), "{fault}");
    assert!(fault.contains("broken/main.typ:2:4: unknown variable") && fault.contains("#let"), "{fault}");
    let (code, fault) =
        call(dir.path(), &[&["template", "preview", "broken", "--output", "b.pdf"], own.as_slice()].concat());
    assert_eq!(code, Some(1), "{fault}");
    assert!(fault.contains("broken/main.typ:2:4"), "{fault}");
    let (code, fault) = call(dir.path(), &["template", "list", "--templates", "nowhere"]);
    assert_eq!(code, Some(2), "{fault}");
    assert!(fault.contains("nowhere"), "{fault}");
}

#[test]
fn a_template_that_loops_or_takes_all_memory_is_stopped_and_the_service_lives() {
    let bomb = "#set document(title: \"x\")\n#let a = range(400000000)\n#a.len()\n";
    let dir = folder(&[
        ("endless/main.typ", ENDLESS),
        ("while/main.typ", "#set document(title: \"x\")\n#while true {}\n"),
        ("pages/main.typ", "#set document(title: \"x\")\n#let f(n) = { pagebreak(); [a]; f(n + 1) }\n#f(0)\n"),
        ("bomb/main.typ", bomb),
        ("shop/main.typ", SHOP),
    ]);
    let limits = ["--templates", "own", "--template-seconds", "20", "--template-memory-mib", "400"];
    let server = Server::start(dir.path(), &limits);
    let url = format!("http://{}", server.address);
    let check = |name: &str| call(dir.path(), &["--server", &url, "template", "check", name]);
    for (template, told) in [
        ("endless", "--template-seconds"),
        ("while", "while/main.typ:2:8: condition is always true"),
        ("bomb", "--template-memory-mib"),
        ("pages", "pages/main.typ"),
    ] {
        let start = Instant::now();
        let (code, text) = check(template);
        assert_eq!(code, Some(4), "{template}: {text}");
        assert!(text.contains(told), "{template}: {text}");
        assert!(start.elapsed() < Duration::from_secs(60), "{template} took {:?}", start.elapsed());
        let (code, text) = check("shop");
        assert_eq!(code, Some(0), "after {template}: {text}");
    }
}

#[test]
fn a_built_in_template_in_a_folder_renders_within_the_limits_to_the_same_bytes() {
    let built_in = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../report-templates");
    let dir = tempfile::tempdir().unwrap();
    for folder in ["shared", "comparison"] {
        std::fs::create_dir_all(dir.path().join("own").join(folder)).unwrap();
        for entry in std::fs::read_dir(built_in.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            std::fs::copy(&path, dir.path().join("own").join(folder).join(path.file_name().unwrap())).unwrap();
        }
    }
    // A comment makes it one's own and changes nothing that prints.
    let main = dir.path().join("own/comparison/main.typ");
    std::fs::write(&main, std::fs::read_to_string(&main).unwrap() + "\n// Ours.\n").unwrap();
    let preview = |output: &str, flags: &[&str]| {
        said(
            dir.path(),
            &[&["template", "preview", "comparison", "--language", "de", "--output", output], flags].concat(),
        );
        std::fs::read(dir.path().join(output)).unwrap()
    };
    let [ours, theirs] = [preview("ours.pdf", &["--templates", "own"]), preview("theirs.pdf", &[])];
    assert!(ours == theirs && ours.len() > 10_000);
}

#[test]
fn contracts_and_the_schema_of_jobs_are_printed() {
    let dir = tempfile::tempdir().unwrap();
    let schema: Value = serde_json::from_str(&said(dir.path(), &["template", "schema", "fleet-plan"])).unwrap();
    assert_eq!(schema["properties"]["report"]["$ref"], "#/$defs/View");
    let (code, text) = call(dir.path(), &["template", "schema", "none"]);
    assert_eq!(code, Some(2), "{text}");
    assert!(text.contains("survey-sheet"), "{text}");

    let schema: Value = serde_json::from_str(&said(dir.path(), &["job-schema"])).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let job = std::fs::read_to_string(root.join("demo-catalog/job.toml")).unwrap();
    let operations = std::fs::read_to_string(root.join("services/server/OPERATIONS.md")).unwrap();
    let example = operations.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    for good in [&job, example] {
        let json: Value = toml::from_str(good).unwrap();
        let faults: Vec<_> = validator.iter_errors(&json).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{faults:?}");
    }
    for bad in ["goal = \"Win it\"", "spot = \"bar\"", "draws = -1", "spots = \"bar\""] {
        let json: Value = toml::from_str(bad).unwrap();
        assert!(!validator.is_valid(&json), "{bad}");
        std::fs::write(dir.path().join("bad.toml"), bad).unwrap();
        let (code, text) = call(dir.path(), &["run", "--file", "bad.toml"]);
        assert_eq!(code, Some(2), "{bad}: {text}");
    }
}

#[test]
fn the_demo_s_job_runs_and_reports_in_german() {
    let dir = tempfile::tempdir().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog");
    let files =
        ["sensors.csv", "spots.csv", "shelters.csv", "targets.csv"].map(|file| demo.join(file).display().to_string());
    said(dir.path(), &[&["import"], files.each_ref().map(String::as_str).as_slice()].concat());
    let job = demo.join("job.toml").display().to_string();
    said(dir.path(), &["run", "--file", &job]);
    let report = said(dir.path(), &["--json", "reports"]);
    assert!(report.contains("Welcher Geber, und wie eingestellt"), "{report}");
    let (code, text) = call(dir.path(), &["run", "--file", &job, "--language", "xx"]);
    assert_eq!(code, Some(1), "{text}");
    assert!(text.contains("language_code") && text.contains("de, en"), "{text}");
}

/// Processes that a process has started.
#[cfg(target_os = "linux")]
fn children(of: u32) -> Vec<(String, String)> {
    let processes =
        std::fs::read_dir("/proc").unwrap().flatten().filter_map(|entry| entry.file_name().into_string().ok());
    let statuses =
        processes.filter_map(|pid| Some((pid.clone(), std::fs::read_to_string(format!("/proc/{pid}/status")).ok()?)));
    statuses.filter(|(_, status)| status.contains(&format!("PPid:\t{of}\n"))).collect()
}

/// Held by the system itself: no privileges, no calls that it does not need; and it ends with the service, however that ends.
#[cfg(target_os = "linux")]
#[test]
fn the_child_that_typesets_is_confined_and_ends_with_the_service() {
    let dir = folder(&[("endless/main.typ", ENDLESS), ("endless/sample.json", "{}")]);
    let mut server = Server::start(dir.path(), &["--templates", "own", "--template-seconds", "120"]);
    let url = server.url();
    let mut caller = lakebeam(dir.path());
    let mut caller = caller.args(["template", "check", "endless", "--server", &url]).spawn().unwrap();
    fn wait<T>(what: &str, until: impl Fn() -> Option<T>) -> T {
        let begun = Instant::now();
        loop {
            if let Some(found) = until() {
                return found;
            }
            assert!(begun.elapsed() < Duration::from_secs(60), "{what}");
            std::thread::sleep(Duration::from_millis(20));
        }
    }
    let service = server.process();
    let confined =
        |(_, status): &(String, String)| status.contains("Seccomp:\t2\n") && status.contains("NoNewPrivs:\t1\n");
    let (child, _) = wait("no confined child", || children(service).into_iter().find(confined));
    server.kill();
    let gone = || match std::fs::read_to_string(format!("/proc/{child}/status")) {
        // A process that has ended and that nobody has asked for yet.
        Ok(status) => status.contains("State:\tZ"),
        Err(_) => true,
    };
    wait("the child outlives the service", || gone().then_some(()));
    let _ = caller.wait();
}
