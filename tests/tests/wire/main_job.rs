//! From records to findings to a report, over the wire.

use proto::v1;
use tonic::Code;

use tests::kit::service::{Service, reason, spec, spot};

async fn service() -> Service {
    let service = Service::with_gear(&[8.0, 13.0, 22.0]).await;
    for (id, depth) in [("a", 4.0), ("b", 8.0), ("c", 15.0), ("d", 20.0)] {
        service.add_spot(id, spot(depth, v1::BottomClass::Silt)).await;
    }
    service
}

#[tokio::test]
async fn a_run_ends_with_ranked_findings_and_the_same_hash_again() {
    let service = service().await;
    let (first, findings) = service.run(spec()).await;
    assert_eq!((first.spot_count, first.option_count, findings.len()), (4, 3, 12));
    assert_eq!((first.findings_done, first.findings_total), (12, 12));
    for spot in findings.chunks(3) {
        let ranks: Vec<_> = spot.iter().map(|f| f.rank).collect();
        assert_eq!(ranks, [1, 2, 3], "in the order of rank");
        assert!(spot.windows(2).all(|w| w[0].score >= w[1].score));
    }
    let (second, again) = service.run(spec()).await;
    assert_eq!(first.result_hash, second.result_hash);
    assert!(!first.result_hash.is_empty());
    let scores = |list: &[v1::Finding]| list.iter().map(|f| f.score.to_bits()).collect::<Vec<_>>();
    assert_eq!(scores(&findings), scores(&again));
}

#[tokio::test]
async fn a_beginning_that_one_run_has_and_latest_name_a_run() {
    let service = service().await;
    let (first, _) = service.run(spec()).await;
    let (second, _) = service.run(spec()).await;
    let get = async |name: &str| service.selection().get_run(v1::GetRunRequest { name: name.to_owned() }).await;
    for run in [&first, &second] {
        assert_eq!(run.name.len(), "runs/rxxxx".len(), "{}", run.name);
        let shortest = (6..).map(|end| &run.name[..end]);
        let unique = shortest.clone().find(|name| !(first.name.starts_with(name) && second.name.starts_with(name)));
        assert_eq!(get(unique.unwrap()).await.unwrap().into_inner().name, run.name);
    }
    assert_eq!(get("runs/latest").await.unwrap().into_inner().name, second.name);
    let both = get("runs/r").await.unwrap_err();
    assert_eq!(both.code(), Code::InvalidArgument);
    assert!(both.message().contains(&first.name) && both.message().contains(&second.name), "{}", both.message());
    assert_eq!(get("runs/x").await.unwrap_err().code(), Code::NotFound);
    let finding = v1::ListFindingsRequest { parent: "runs/latest".to_owned(), ..v1::ListFindingsRequest::default() };
    let page = service.selection().list_findings(finding).await.unwrap().into_inner();
    assert!(page.findings.iter().all(|finding| finding.name.starts_with(&second.name)));
}

#[tokio::test]
async fn pages_of_findings_together_are_the_stream() {
    let service = service().await;
    let (run, all) = service.run(spec()).await;
    let mut paged = Vec::new();
    let mut page_token = String::new();
    loop {
        let request = v1::ListFindingsRequest {
            parent: run.name.clone(),
            page_size: 5,
            page_token,
            ..v1::ListFindingsRequest::default()
        };
        let page = service.selection().list_findings(request).await.unwrap().into_inner();
        paged.extend(page.findings);
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(paged, all);
    let best = v1::StreamFindingsRequest { parent: run.name.clone(), spot: "spots/c".to_owned(), max_rank: 1 };
    let mut stream = service.selection().stream_findings(best).await.unwrap().into_inner();
    let only = stream.message().await.unwrap().unwrap();
    assert_eq!((only.spot.as_str(), only.rank), ("spots/c", 1));
    assert!(stream.message().await.unwrap().is_none());
}

#[tokio::test]
async fn an_explanation_gives_the_findings_own_score() {
    let service = service().await;
    let (_, findings) = service.run(spec()).await;
    let request = v1::ExplainFindingRequest { name: findings[4].name.clone() };
    let answer = service.selection().explain_finding(request).await.unwrap().into_inner();
    assert_eq!(answer.finding.as_ref(), Some(&findings[4]));
    assert_eq!(answer.root.unwrap().value, Some(findings[4].score));
    let unknown = v1::ExplainFindingRequest { name: findings[4].name.replace(".main", ".none") };
    assert_eq!(service.selection().explain_finding(unknown).await.unwrap_err().code(), Code::NotFound);
}

#[tokio::test]
async fn evaluating_at_once_gives_what_a_run_stores() {
    let service = service().await;
    let one = v1::RunSpec { spots: vec!["spots/b".to_owned()], ..spec() };
    let (_, stored) = service.run(one.clone()).await;
    let request = v1::EvaluateRequest { spec: Some(one), ..v1::EvaluateRequest::default() };
    let at_once = service.selection().evaluate(request).await.unwrap().into_inner().findings;
    let unnamed: Vec<_> = stored.into_iter().map(|f| v1::Finding { name: String::new(), ..f }).collect();
    assert_eq!(at_once, unnamed);
    // The same spot given in the request instead of stored.
    let request = v1::EvaluateRequest {
        spec: Some(spec()),
        spot: Some(spot(8.0, v1::BottomClass::Silt)),
        ..v1::EvaluateRequest::default()
    };
    let inline = service.selection().evaluate(request).await.unwrap().into_inner().findings;
    let scores = |list: &[v1::Finding]| list.iter().map(|f| f.score.to_bits()).collect::<Vec<_>>();
    assert_eq!(scores(&inline), scores(&at_once));
}

#[tokio::test]
async fn a_request_id_starts_one_run_however_often_it_is_sent() {
    let service = service().await;
    let request =
        v1::StartRunRequest { spec: Some(spec()), request_id: "order-7".to_owned(), ..v1::StartRunRequest::default() };
    let first = service.selection().start_run(request.clone()).await.unwrap().into_inner();
    let second = service.selection().start_run(request).await.unwrap().into_inner();
    assert_eq!(first.name, second.name);
    let runs = service.selection().list_runs(v1::ListRunsRequest::default()).await.unwrap().into_inner().runs;
    assert_eq!(runs.len(), 1);
}

#[tokio::test]
async fn a_report_is_rendered_once_for_the_same_content_and_comes_in_chunks() {
    let service = service().await;
    let (run, _) = service.run(spec()).await;
    let request = |title: &str| v1::RenderReportRequest {
        source: run.name.clone(),
        template: "templates/blank".to_owned(),
        spots: vec!["spots/b".to_owned()],
        title: title.to_owned(),
        ..v1::RenderReportRequest::default()
    };
    let mut reports = service.reports();
    let first = reports.render_report(request("One")).await.unwrap().into_inner();
    let again = reports.render_report(request("One")).await.unwrap().into_inner();
    let other = reports.render_report(request("Two")).await.unwrap().into_inner();
    assert_eq!(first, again);
    assert_ne!(first.name, other.name);
    let mut stream =
        reports.download_report(v1::DownloadReportRequest { name: first.name.clone() }).await.unwrap().into_inner();
    let (mut bytes, mut chunks) = (Vec::new(), 0);
    while let Some(part) = stream.message().await.unwrap() {
        bytes.extend_from_slice(&part.chunk);
        chunks += 1;
    }
    assert!(chunks > 1);
    assert_eq!(i64::try_from(bytes.len()).unwrap(), first.size_bytes);
    assert_eq!(blake3::hash(&bytes).to_hex().to_string(), first.content_hash);
    assert!(bytes.starts_with(b"%PDF 1 spots, 3 findings"), "only the spot asked for");
    let unknown = v1::RenderReportRequest { template: "templates/none".to_owned(), ..request("One") };
    assert_eq!(reason(&reports.render_report(unknown).await.unwrap_err()), "NOT_FOUND");
}

#[tokio::test]
async fn a_cancelled_run_keeps_what_is_done_and_refuses_a_report() {
    let service = service().await;
    for i in 0..400 {
        service.add_spot(&format!("m{i}"), spot(3.0 + f64::from(i) / 40.0, v1::BottomClass::FineSand)).await;
    }
    let spec = v1::RunSpec { draws: 2_000, ..spec() };
    let request = v1::StartRunRequest { spec: Some(spec), ..v1::StartRunRequest::default() };
    let run = service.selection().start_run(request).await.unwrap().into_inner();
    let cancelled =
        service.selection().cancel_run(v1::CancelRunRequest { name: run.name.clone() }).await.unwrap().into_inner();
    assert_eq!(cancelled.state(), v1::RunState::Cancelled);
    assert!(cancelled.findings_done < cancelled.findings_total);
    let request = v1::RenderReportRequest {
        source: run.name,
        template: "templates/blank".to_owned(),
        ..v1::RenderReportRequest::default()
    };
    assert_eq!(reason(&service.reports().render_report(request).await.unwrap_err()), "RUN_NOT_SUCCEEDED");
}

/// A request id makes the same call harmless, and never answers another one.
#[tokio::test]
async fn a_request_id_of_another_spec_is_refused() {
    let service = service().await;
    let start = async |spec: v1::RunSpec| {
        let request =
            v1::StartRunRequest { spec: Some(spec), request_id: "till-3".to_owned(), ..v1::StartRunRequest::default() };
        service.selection().start_run(request).await
    };
    let first = start(spec()).await.unwrap().into_inner();
    assert_eq!(start(spec()).await.unwrap().into_inner().name, first.name);
    let refused = start(v1::RunSpec { seed: 99, ..spec() }).await.unwrap_err();
    assert_eq!(refused.code(), Code::InvalidArgument);
    assert!(refused.message().contains("till-3") && refused.message().contains(&first.name), "{}", refused.message());
}

/// What the others in a shelter have is read, kept with the run and refused where it names nothing.
#[tokio::test]
async fn neighbours_of_a_run_are_named_or_unknown() {
    let service = service().await;
    let message = v1::RunSpec { neighbour_options: vec!["sensors/nowhere".to_owned()], ..spec() };
    let request = v1::StartRunRequest { spec: Some(message), ..v1::StartRunRequest::default() };
    let refused = service.selection().start_run(request).await.unwrap_err();
    assert!(refused.message().contains("neighbour_options[0]"), "{}", refused.message());
    let both = v1::RunSpec {
        neighbours: v1::Neighbours::Unknown.into(),
        neighbour_options: vec!["sensors/nowhere".to_owned()],
        ..spec()
    };
    let request = v1::StartRunRequest { spec: Some(both), ..v1::StartRunRequest::default() };
    let refused = service.selection().start_run(request).await.unwrap_err();
    assert!(refused.message().contains("neighbours is given beside"), "{}", refused.message());
}
