//! The real binary as people run it: verbs, exit codes, the demo, and a server that is told to stop.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod support;

use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

use support::{Server, complained, lakebeam, said};

const SPOTS: &str = "id,display_name,depth_m,bottom_class\nbar,North bar,6.2,gravel\nbay,Soft bay,3.9,soft_mud\n";

/// A folder with a small invented catalog in `lakebeam.db`.
fn catalog() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog");
    std::fs::write(dir.path().join("spots.csv"), SPOTS).unwrap();
    let [sensors, targets] = ["sensors.csv", "targets.csv"].map(|f| demo.join(f).display().to_string());
    said(dir.path(), &["import", &sensors, &targets, "spots.csv"]);
    dir
}

/// A folder with the whole demo catalog in `lakebeam.db`.
fn whole_catalogue() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog");
    let kinds =
        ["sensors", "spots", "shelters", "targets", "goals", "units", "bookings", "unit-checks", "beam-surveys"];
    let files = kinds.map(|kind| demo.join(format!("{kind}.csv")).display().to_string());
    let files = files.iter().map(String::as_str);
    said(dir.path(), &std::iter::once("import").chain(files).collect::<Vec<_>>());
    dir
}

const RUN: [&str; 5] = ["run", "--lure", "tungsten-jig-5", "--fish", "perch-25"];

#[test]
fn a_catalogue_becomes_findings_an_explanation_and_a_report() {
    let dir = catalog();
    let at = dir.path();
    let printed = said(at, &[&RUN[..], &["--report", "out.pdf"]].concat());
    assert!(printed.contains("bar") && printed.contains("best at".to_uppercase().as_str()), "{printed}");
    let pdf = std::fs::read(at.join("out.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-"));
    let runs: serde_json::Value = serde_json::from_str(said(at, &["runs", "--json"]).lines().next().unwrap()).unwrap();
    let run = runs["name"].as_str().unwrap();
    assert_eq!(runs["state"], "RUN_STATE_SUCCEEDED");
    let explained = said(at, &["explain", run, "--spot", "bar"]);
    for part in ["score", "formula", " db", "source"] {
        assert!(explained.to_lowercase().contains(part), "{part}: {explained}");
    }
    let findings = said(at, &["findings", run, "--spot", "bay", "--json"]);
    assert!(findings.lines().all(|l| serde_json::from_str::<serde_json::Value>(l).unwrap()["spot"] == "spots/bay"));
    // Another process over a copy of the database renders the same bytes.
    said(at, &["backup", "--out", "copy.db"]);
    let reports: serde_json::Value =
        serde_json::from_str(said(at, &["reports", "--json"]).lines().next().unwrap()).unwrap();
    said(at, &["--database", "copy.db", "report", run, "-o", "again.pdf"]);
    assert_eq!(std::fs::read(at.join("again.pdf")).unwrap(), pdf);
    assert_eq!(reports["content_hash"].as_str().unwrap(), blake3::hash(&pdf).to_hex().as_str());
    said(at, &["report", run, "--template", "customer-sheet", "--length-unit", "feet", "-o", "sheet.pdf"]);
}

#[test]
fn every_spot_gets_its_sheet() {
    let dir = catalog();
    let at = dir.path();
    said(at, &RUN);
    let run: serde_json::Value = serde_json::from_str(said(at, &["runs", "--json"]).lines().next().unwrap()).unwrap();
    let run = run["name"].as_str().unwrap();
    let printed = said(at, &["sheets", run, "--output", "made/sheets"]);
    assert!(printed.contains("2 sheets"), "{printed}");
    // Each is what one would get for that spot alone.
    for spot in ["bar", "bay"] {
        said(at, &["report", run, "--template", "customer-sheet", "--spots", spot, "--output", "alone.pdf"]);
        let sheet = std::fs::read(at.join(format!("made/sheets/{spot}.pdf"))).unwrap();
        assert!(sheet.starts_with(b"%PDF-"));
        assert_eq!(sheet, std::fs::read(at.join("alone.pdf")).unwrap(), "{spot}");
    }
    assert!(complained(at, &["sheets", run, "--spots", "nowhere", "--output", "made"], 1).contains("nowhere"));
    std::fs::write(at.join("file"), "").unwrap();
    assert!(complained(at, &["sheets", run, "--output", "file"], 2).contains("file"));
}

#[test]
fn a_goal_of_the_users_own_is_imported_and_weighs_runs_and_advice() {
    let dir = catalog();
    let at = dir.path();
    let header = "id,display_name,starts_from,coverage_weight,clutter_weight,resolution_weight,interference_weight";
    std::fs::write(at.join("goals.csv"), format!("{header}\nbottom,Close to the bottom,search,0,2,0,0\n")).unwrap();
    said(at, &["import", "goals.csv"]);
    let listed = said(at, &["list", "goals"]);
    for part in ["goals/bottom", "Close to the bottom", "search", "coverage 0, clutter 2, resolution 0, interference 0"]
    {
        assert!(listed.contains(part), "{part}: {listed}");
    }
    // Out of the service and in again it is the same goal.
    said(at, &["export", "goals", "-o", "out.csv"]);
    let shown = said(at, &["show", "goals/bottom"]);
    said(at, &["delete", "goals/bottom"]);
    said(at, &["import", "--kind", "goals", "out.csv"]);
    let times = |text: &str| text.lines().filter(|line| !line.contains("_time")).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(times(&said(at, &["show", "goals/bottom"])), times(&shown));

    let run = |goal: &str| {
        let printed = said(at, &[&RUN[..], &["--goal", goal, "--json"]].concat());
        let run: serde_json::Value = serde_json::from_str(printed.trim()).unwrap();
        (run["name"].as_str().unwrap().to_owned(), run["spec"]["custom_goal"].as_str().map(str::to_owned))
    };
    let (name, kept) = run("bottom");
    assert_eq!(kept.as_deref(), Some("goals/bottom"));
    assert_eq!(run("goals/bottom").1, kept);
    assert_eq!(run("school").1, None);
    let explained = said(at, &["explain", &name, "--spot", "bar"]);
    assert!(explained.contains("weights and limits are those of the goal Close to the bottom"), "{explained}");
    said(at, &["report", &name, "-o", "own.pdf"]);
    let pdf = std::fs::read(at.join("own.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-"));

    let uses = ["advise", "--spots", "bar,bay", "--lure", "tungsten-jig-5", "--fish", "perch-25", "--draws", "0"];
    let advised = said(at, &[&uses[..], &["--uses", "search:0.4,bottom:0.6", "--json"]].concat());
    let advised: serde_json::Value = serde_json::from_str(advised.trim()).unwrap();
    let titles: Vec<_> =
        advised["places"].as_array().unwrap().iter().map(|place| place["goal_title"].as_str()).collect();
    assert_eq!(titles, [None, Some("Close to the bottom"), None, Some("Close to the bottom")]);
    std::fs::write(at.join("job.toml"), "lure = \"tungsten-jig-5\"\nfish = \"perch-25\"\ngoal = \"bottom\"\n").unwrap();
    assert!(said(at, &["run", "--file", "job.toml", "--json"]).contains("goals/bottom"));

    let unknown = complained(at, &[&RUN[..], &["--goal", "botom"]].concat(), 1);
    assert!(unknown.contains("'goals/botom'") && unknown.contains("is 'goals/bottom'"), "{unknown}");
    let preset = complained(at, &[&RUN[..], &["--uses", "wach-lure:1"]].concat(), 1);
    assert!(preset.contains("the nearest known one is the preset watch-lure"), "{preset}");
    let form = complained(at, &[&RUN[..], &["--goal", "Close to it"]].concat(), 2);
    assert!(form.contains("search, watch-lure, school, weed-edge, or a stored one"), "{form}");
}

#[test]
fn a_batch_is_one_file() {
    let dir = catalog();
    let job = "lure = \"tungsten-jig-5\"\nfish = \"perch-25\"\ngoal = \"search\"\nspots = [\"bar\"]\ndraws = 50\n";
    std::fs::write(dir.path().join("job.toml"), job).unwrap();
    let printed = said(dir.path(), &["run", "--file", "job.toml", "--json"]);
    let run: serde_json::Value = serde_json::from_str(printed.trim()).unwrap();
    assert_eq!((run["spot_count"].as_i64(), run["spec"]["goal"].as_str()), (Some(1), Some("GOAL_SEARCH")));
    std::fs::write(dir.path().join("bad.toml"), "lures = \"x\"\n").unwrap();
    assert!(complained(dir.path(), &["run", "--file", "bad.toml"], 2).contains("lures"));
    for (goal, code) in [("Fly by", 2), ("fly", 1)] {
        let job = format!("lure = \"tungsten-jig-5\"\nfish = \"perch-25\"\ngoal = \"{goal}\"\n");
        std::fs::write(dir.path().join("bad.toml"), job).unwrap();
        assert!(complained(dir.path(), &["run", "--file", "bad.toml"], code).contains("search, watch-lure"), "{goal}");
    }
}

#[test]
fn a_logo_is_a_file_that_is_looked_at_and_kept_within_limits() {
    let dir = catalog();
    let at = dir.path();
    let svg = |inside: &str| format!("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\">{inside}</svg>");
    // Each level draws the one before it ten times: six make a drawing that takes very long, nine one that is not even begun.
    let level = |n: usize| format!("<g id=\"l{n}\">{}</g>", format!("<use href=\"#l{}\"/>", n - 1).repeat(10));
    let nested = |levels: usize| {
        "<rect id=\"l0\" width=\"1\" height=\"1\"/>".to_owned() + &(1..levels).map(level).collect::<String>()
    };
    let slow = format!("<defs>{}</defs>{}", nested(6), "<use href=\"#l5\"/>".repeat(2));
    for (name, text) in [
        ("good.svg", svg("<rect width=\"9\" height=\"9\"/>")),
        ("linked.svg", svg("<use href=\"/etc/hostname\"/>")),
        ("slow.svg", svg(&slow)),
        ("bomb.svg", svg(&nested(9))),
        ("no.gif", "GIF89a".to_owned()),
        ("large.svg", svg(&" ".repeat(1024 * 1024))),
    ] {
        std::fs::write(at.join(name), text).unwrap();
    }
    let job = "lure = \"tungsten-jig-5\"\nfish = \"perch-25\"\nspots = [\"bar\"]\nreport = \"bare.pdf\"\n";
    std::fs::write(at.join("bare.toml"), job).unwrap();
    std::fs::write(at.join("logo.toml"), job.replace("bare.pdf", "logo.pdf") + "logo = \"good.svg\"\n").unwrap();
    said(at, &["run", "--file", "bare.toml"]);
    said(at, &["run", "--file", "logo.toml"]);
    let [bare, logo] = ["bare.pdf", "logo.pdf"].map(|name| std::fs::read(at.join(name)).unwrap());
    assert!(logo.starts_with(b"%PDF-") && logo != bare);
    let runs: serde_json::Value = serde_json::from_str(said(at, &["runs", "--json"]).lines().next().unwrap()).unwrap();
    let run = runs["name"].as_str().unwrap();
    let with = |logo: &'static str| {
        let seconds = if logo == "slow.svg" { "4" } else { "60" };
        ["report", run, "-o", "again.pdf", "--logo", logo, "--template-seconds", seconds]
    };
    said(at, &with("good.svg"));
    assert_eq!(std::fs::read(at.join("again.pdf")).unwrap(), logo);
    for (name, code, why) in [
        ("none.png", 2, "none.png cannot be read"),
        ("linked.svg", 1, "refers to something outside of itself ('/etc/hostname')"),
        ("no.gif", 1, "accepted: PNG, JPEG or SVG"),
        ("large.svg", 1, "accepted: up to 1048576"),
        ("slow.svg", 1, "logo took too long to draw, or too much memory"),
        ("bomb.svg", 1, "logo cannot be read: failed to parse SVG"),
    ] {
        let text = complained(at, &with(name), code);
        assert!(text.contains(why), "{name}: {text}");
    }
}

#[test]
fn what_is_exported_imports_to_the_same() {
    let dir = whole_catalogue();
    let at = dir.path();
    for (kind, format, ending) in [
        ("sensors", "csv", "csv"),
        ("spots", "json-lines", "jsonl"),
        ("targets", "csv", "csv"),
        // What is referred to before what refers to it.
        ("shelters", "csv", "csv"),
        ("bookings", "csv", "csv"),
        ("units", "csv", "csv"),
        ("unit-checks", "csv", "csv"),
        ("beam-surveys", "csv", "csv"),
        ("beam-surveys", "json-lines", "jsonl"),
    ] {
        let file = format!("{kind}-out.{ending}");
        said(at, &["export", kind, "--format", format, "-o", &file]);
        said(at, &["--database", "other.db", "import", &file, "--kind", kind, "--replace"]);
        let listed = |database: &str| {
            let lines = said(at, &["--database", database, "list", kind, "--json"]);
            let stamped = |line: &str| {
                let mut value: serde_json::Value = serde_json::from_str(line).unwrap();
                for stamp in ["create_time", "update_time"] {
                    value.as_object_mut().unwrap().remove(stamp);
                }
                value
            };
            lines.lines().map(stamped).collect::<Vec<_>>()
        };
        assert_eq!(listed("lakebeam.db"), listed("other.db"), "{kind}");
    }
}

#[test]
fn rules_plans_assessments_and_surveys_are_printed_stored_and_put_on_paper() {
    let dir = whole_catalogue();
    let at = dir.path();
    let pdf = |file: &str| assert!(std::fs::read(at.join(file)).unwrap().starts_with(b"%PDF-"), "{file}");
    let rules = ["rules", "--shelters", "rental-hut-five", "--options", "plain-narrow,ring-array", "--lure"];
    let rest = ["tungsten-jig-5", "--bands", "2-5,16-30ft", "--bottoms", "silt", "--report", "rules.pdf"];
    let printed = said(at, &[&rules[..], &rest[..]].concat());
    assert!(printed.contains("Rental hut for five") && printed.contains("NEVER ABOVE"), "{printed}");
    assert!(printed.contains("stands alone") && !printed.contains("Not listed"), "{printed}");
    pdf("rules.pdf");
    let bands = ["tungsten-jig-5", "--bands", "2-5", "--bottoms", "silt", "--next-shelter", "10ft", "--unlisted"];
    let printed = said(at, &[&rules[..], &bands[..]].concat());
    assert!(printed.contains("other shelters all round, 3 m (10 ft) or more"), "{printed}");
    assert_eq!(printed.matches("Not listed").count(), 9, "{printed}");
    let printed = said(at, &["layout", "--floor", "3x2.4", "--people", "4"]);
    assert!(printed.contains("apart") && printed.contains("local authority"), "{printed}");
    let printed =
        said(at, &["plan", "--budget", "3000EUR", "--options", "plain-middle,two-face", "--report", "plan.pdf"]);
    assert!(printed.contains("bookings are served") && printed.contains("Who cannot be served"), "{printed}");
    pdf("plan.pdf");
    let printed = said(at, &["assess", "--report", "units.pdf"]);
    assert!(
        printed.contains("MW-M05") && printed.contains("weak") && printed.contains("Swapped in one hole"),
        "{printed}"
    );
    pdf("units.pdf");
    said(at, &["report", "unitAssessments/latest", "-o", "units-again.pdf"]);
    pdf("units-again.pdf");
    let draft = ["survey", "draft", "two-face/options/wide", "--target", "check-ball-38", "--depth-m", "9"];
    assert!(
        complained(at, &draft, 1).contains("sensors/{sensor}/options/{option}"),
        "half a name is refused with the whole form"
    );
    let draft = ["survey", "draft", "sensors/two-face/options/wide", "--target", "check-ball-38", "--depth-m", "9"];
    let printed = said(at, &[&draft[..], &["--report", "sheet.pdf"]].concat());
    assert!(printed.contains("weakens the sheet"), "{printed}");
    pdf("sheet.pdf");
    let fit = said(at, &["survey", "fit", "two-face-wide-jan", "--json", "--report", "beam.pdf"]);
    pdf("beam.pdf");
    let fit: serde_json::Value = serde_json::from_str(&fit).unwrap();
    let printed = said(at, &["survey", "adopt", fit["name"].as_str().unwrap()]);
    assert!(printed.contains("marked as measured"), "{printed}");
    for (kind, name) in [
        ("rules", "shelterRules/"),
        ("plans", "fleetPlans/"),
        ("assessments", "unitAssessments/"),
        ("fits", "beamFits/"),
    ] {
        let listed = said(at, &["derived", kind]);
        assert!(listed.contains(name), "{listed}");
    }
    assert!(complained(at, &["rules", "--lure", "x", "--bands", "deep", "--bottoms", "silt"], 2).contains("2-6"));
    assert!(complained(at, &["plan", "--budget", "lots"], 2).contains("2500USD"));
}

/// The words of a command line; double quotes hold one together.
fn words(line: &str) -> Vec<String> {
    let parts = line.split('"').enumerate();
    let words = parts.flat_map(|(index, part)| match index % 2 {
        0 => part.split_whitespace().map(str::to_owned).collect::<Vec<_>>(),
        _ => vec![part.to_owned()],
    });
    words.collect()
}

/// The lines of the README's blocks that begin with that fence.
fn readme(fence: &str) -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    let fence = format!("{fence}\n");
    let blocks = readme.split(&fence).skip(1);
    blocks.flat_map(|block| block.split("```").next().unwrap().lines().map(str::to_owned)).collect()
}

#[test]
fn the_journeys_of_the_readme_run_from_a_fresh_folder() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog");
    std::fs::create_dir(at.join("demo-catalog")).unwrap();
    for entry in std::fs::read_dir(demo).unwrap() {
        let path = entry.unwrap().path();
        std::fs::copy(&path, at.join("demo-catalog").join(path.file_name().unwrap())).unwrap();
    }
    let lines = readme("```sh journey");
    assert!(lines.len() >= 12, "{lines:?}");
    let mut pages = 0;
    for line in &lines {
        let words = words(line);
        let [program, rest @ ..] = words.as_slice() else { panic!("an empty line") };
        assert_eq!(program, "lakebeam", "{line}");
        said(at, &rest.iter().map(String::as_str).collect::<Vec<_>>());
        for file in rest.iter().filter(|word| word.ends_with(".pdf")) {
            assert!(std::fs::read(at.join(file)).unwrap().starts_with(b"%PDF-"), "{line}");
            pages += 1;
        }
    }
    assert_eq!(pages, 8, "pages that come out");
}

#[test]
fn every_end_has_its_exit_code_and_says_what_to_do() {
    let dir = catalog();
    let at = dir.path();
    std::fs::write(at.join("spots.csv"), SPOTS.replace("6.2", "-6.2").replace("bar,", "reef,")).unwrap();
    let refused = complained(at, &["import", "spots.csv"], 4);
    assert!(refused.contains("depth_m") && refused.contains("Nothing was stored"), "{refused}");
    let unknown = complained(at, &["show", "spots/none"], 1);
    assert!(unknown.contains("spots/none") && unknown.contains("list"), "{unknown}");
    let named = complained(at, &["run", "--lure", "none", "--fish", "perch-25"], 1);
    assert!(named.contains("spec.lure"), "{named}");
    complained(at, &["run", "--goal", "fly by"], 2);
    complained(at, &["import", "nothing-there.csv", "--kind", "spots"], 2);
    let gone = complained(at, &["--server", "http://127.0.0.1:9", "runs"], 3);
    assert!(gone.contains("is it running"), "{gone}");
    let open = complained(at, &["serve", "--listen", "0.0.0.0:0"], 2);
    assert!(open.contains("loopback"), "{open}");
    std::fs::write(at.join("noise.db"), "no database".repeat(500)).unwrap();
    let corrupt = complained(at, &["--database", "noise.db", "runs"], 3);
    assert!(corrupt.contains("noise.db"), "{corrupt}");
}

#[test]
fn a_reader_that_stops_reading_is_no_fault() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = lakebeam(dir.path()).arg("columns").stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success() && output.stderr.is_empty(), "{output:?}");
}

#[test]
fn columns_completions_and_manual_pages_need_no_database() {
    let dir = tempfile::tempdir().unwrap();
    assert!(said(dir.path(), &["columns", "spots"]).contains("depth_m"));
    // The file that is to be filled in is read as it stands.
    let other = tempfile::tempdir().unwrap();
    std::fs::write(other.path().join("spots.csv"), said(dir.path(), &["columns", "spots", "--csv"])).unwrap();
    assert!(said(other.path(), &["import", "spots.csv"]).contains("1 spots stored"));
    assert!(said(dir.path(), &["completions", "bash"]).contains("lakebeam"));
    said(dir.path(), &["man", "pages"]);
    assert!(dir.path().join("pages/lakebeam.1").exists());
    assert!(!dir.path().join("lakebeam.db").exists());
}

#[test]
fn the_demo_writes_its_reports_and_can_be_run_again() {
    let dir = tempfile::tempdir().unwrap();
    for _ in 0..2 {
        let printed = said(dir.path(), &["demo", "--out", "reports"]);
        assert!(printed.contains("invented") && printed.contains("carbon monoxide"), "{printed}");
    }
    let pdfs: Vec<_> = std::fs::read_dir(dir.path().join("reports"))
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "pdf"))
        .collect();
    assert_eq!(pdfs.len(), 9, "{pdfs:?}");
    assert!(pdfs.iter().all(|p| std::fs::read(p).unwrap().starts_with(b"%PDF-")));
}

#[test]
fn a_server_told_to_stop_ends_its_streams_and_resumes_the_run_at_its_next_start() {
    let dir = catalog();
    let at = dir.path();
    let mut rows = String::from(SPOTS);
    for i in 0..600 {
        rows.push_str(&format!("s{i},Spot {i},{:.2},silt\n", 3.0 + f64::from(i) / 40.0));
    }
    std::fs::write(at.join("spots.csv"), rows).unwrap();
    said(at, &["import", "spots.csv", "--replace"]);
    let mut server = Server::start(at, &[]);
    let url = format!("http://{}", server.address);
    // A client that watches a long run while the server is told to stop.
    let mut client = lakebeam(at)
        .args(["--server", &url])
        .args(RUN)
        .args(["--draws", "1000"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let running = || {
        let lines = said(at, &["--server", &url, "runs", "--json"]);
        lines.lines().next().is_some_and(|l| l.contains("RUN_STATE_RUNNING") && l.contains("findings_done"))
    };
    let patience = Instant::now();
    while !running() {
        assert!(patience.elapsed() < Duration::from_secs(60), "the run does not get going");
        std::thread::yield_now();
    }
    let start = Instant::now();
    let (_, status) = server.terminate();
    assert!(status.success(), "{status}");
    assert!(start.elapsed() < Duration::from_secs(5), "took {:?}", start.elapsed());
    assert!(!client.wait().unwrap().success(), "the client is told that the service stops");
    // Started again, it goes on where it was and ends with the hash of an undisturbed run.
    let again = Server::start(at, &[]);
    let url = format!("http://{}", again.address);
    let first: serde_json::Value =
        serde_json::from_str(said(at, &["--server", &url, "runs", "--json"]).lines().next().unwrap()).unwrap();
    let watched = said(at, &["--server", &url, "watch", first["name"].as_str().unwrap(), "--json"]);
    let resumed: serde_json::Value = serde_json::from_str(watched.trim()).unwrap();
    assert_eq!(resumed["state"], "RUN_STATE_SUCCEEDED");
    let whole = said(at, &[&["--server", &url], &RUN[..], &["--draws", "1000", "--json"]].concat());
    let undisturbed: serde_json::Value = serde_json::from_str(whole.trim()).unwrap();
    assert_eq!(resumed["result_hash"], undisturbed["result_hash"]);
}
