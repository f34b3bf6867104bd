//! Reports that are rendered at once, those that wait, and those that are refused; whatever their callers do.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

use api::{Limits, Paper, RenderError, RenderJob, Rendered, Renderer, TemplateCheck, TemplateInfo};
use proto::v1;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

use tests::kit::service::{Blank, Service, Setup, reason, spec, spot};

/// Renders nothing until it is opened.
#[derive(Default)]
struct Gate {
    open: Mutex<bool>,
    opened: Condvar,
    inside: AtomicUsize,
    most: AtomicUsize,
}

impl Renderer for Gate {
    fn templates(&self) -> Result<Vec<TemplateInfo>, RenderError> {
        Blank.templates()
    }
    fn languages(&self) -> Vec<String> {
        Blank.languages()
    }
    fn fingerprint(&self, template: &str) -> Result<String, RenderError> {
        Blank.fingerprint(template)
    }
    fn render(&self, job: &RenderJob) -> Result<Rendered, RenderError> {
        let inside = self.inside.fetch_add(1, Ordering::SeqCst) + 1;
        self.most.fetch_max(inside, Ordering::SeqCst);
        let open = self.opened.wait_while(self.open.lock().unwrap(), |open| !*open).unwrap();
        drop(open);
        self.inside.fetch_sub(1, Ordering::SeqCst);
        Blank.render(job)
    }
    fn check(&self, template: &str, language: &str, paper: Option<Paper>) -> Result<TemplateCheck, RenderError> {
        Blank.check(template, language, paper)
    }
}

impl Gate {
    async fn holds(&self, wanted: usize) {
        let start = Instant::now();
        while self.inside.load(Ordering::SeqCst) != wanted {
            assert!(start.elapsed() < Duration::from_secs(20), "not {wanted} are rendered");
            tokio::task::yield_now().await;
        }
    }
}

type Call = tokio::task::JoinHandle<Result<(), Status>>;

/// Asks for a report that nobody has asked for before.
fn ask(service: &Service, run: &str, title: String) -> Call {
    let request = v1::RenderReportRequest {
        source: run.to_owned(),
        template: "templates/blank".to_owned(),
        title,
        ..v1::RenderReportRequest::default()
    };
    let mut reports = service.reports();
    tokio::spawn(async move { reports.render_report(request).await.map(|_| ()) })
}

/// The typesetter cannot be told to stop. So what callers leave behind keeps its place until it is done: else each caller that asks and goes
/// away would put one more page into memory.
#[tokio::test(flavor = "multi_thread")]
async fn no_more_are_rendered_at_once_when_callers_go_away_and_no_more_wait_than_may() {
    let gate = Arc::new(Gate::default());
    let service = Service::start_with(Setup { renderer: gate.clone(), ..Setup::default() }).await;
    service.add_gear(&[12.0]).await;
    service.add_spot("bar", spot(6.0, v1::BottomClass::Silt)).await;
    let (run, _) = service.run(spec()).await;
    let Limits { renders, waiting_renders, .. } = Limits::default();
    for title in 0..renders {
        let left = ask(&service, &run.name, format!("Left {title}"));
        gate.holds(title + 1).await;
        left.abort();
        assert!(left.await.unwrap_err().is_cancelled());
    }
    let refused = Arc::new(AtomicUsize::new(0));
    let over = Arc::new(AtomicBool::new(false));
    let more = 3;
    let calls: Vec<_> = (0..waiting_renders + more)
        .map(|title| {
            let call = ask(&service, &run.name, format!("Title {title}"));
            let (refused, over) = (Arc::clone(&refused), Arc::clone(&over));
            tokio::spawn(async move {
                let outcome = call.await.unwrap();
                if let Err(status) = &outcome {
                    assert!(!over.load(Ordering::SeqCst), "{status:?}");
                    assert_eq!((status.code(), reason(status).as_str()), (Code::ResourceExhausted, "OVERLOADED"));
                    let retry = status.get_error_details().retry_info().and_then(|retry| retry.retry_delay);
                    assert!(retry.is_some_and(|delay| delay > Duration::ZERO), "{status:?}");
                    refused.fetch_add(1, Ordering::SeqCst);
                }
            })
        })
        .collect();
    let start = Instant::now();
    while refused.load(Ordering::SeqCst) < more {
        assert!(start.elapsed() < Duration::from_secs(20), "nobody was refused");
        tokio::task::yield_now().await;
    }
    assert_eq!(gate.inside.load(Ordering::SeqCst), renders, "a place was given away before its page was done");
    over.store(true, Ordering::SeqCst);
    *gate.open.lock().unwrap() = true;
    gate.opened.notify_all();
    for call in calls {
        call.await.unwrap();
    }
    assert_eq!((refused.load(Ordering::SeqCst), gate.most.load(Ordering::SeqCst)), (more, renders));
}
