//! Callers of runs, findings and rules.

use std::time::Duration;

use proto::v1;
use proto::v1::rules_service_client::RulesServiceClient;
use proto::v1::selection_service_client::SelectionServiceClient;
use tonic::Request;

use super::known::{rules_spec, spec};
use super::{Caller, Manner};
use crate::tally::Takes;

impl Caller {
    /// A run over every spot of the demo, in company and with draws, watched to its end.
    pub(crate) async fn run_to_the_end(&mut self) {
        let spots = self.known.spots.clone();
        let seed = self.pick(1 << 40);
        let spec = v1::RunSpec { shelter: "shelters/rental-hut-five".to_owned(), draws: 64, seed, ..spec(spots) };
        self.watch_one(spec, Manner::Whole).await;
    }

    async fn start(&mut self, spec: v1::RunSpec) -> Option<v1::Run> {
        let mut selection = SelectionServiceClient::new(self.channel.clone());
        let request = v1::StartRunRequest { spec: Some(spec), ..Default::default() };
        self.call("SelectionService/StartRun", selection.start_run(request)).await
    }

    async fn watch_one(&mut self, spec: v1::RunSpec, manner: Manner) {
        let Some(run) = self.start(spec).await else { return };
        let mut selection = SelectionServiceClient::new(self.channel_for(manner).await);
        let request = v1::WatchRunRequest { name: run.name.clone() };
        let (last, _) = self.stream("SelectionService/WatchRun", manner, selection.watch_run(request)).await;
        let state = last.and_then(|state| state.run).map(|run| run.state());
        if manner == Manner::Whole && !matches!(state, None | Some(v1::RunState::Succeeded | v1::RunState::Cancelled)) {
            self.tally.fault(format!("a watched run ended as {state:?}"));
        }
        if manner == Manner::Whole && state.is_some() {
            let request = v1::DeleteRunRequest { name: run.name, force: false };
            self.call("SelectionService/DeleteRun", selection.delete_run(request)).await;
        }
    }

    pub(super) async fn start_and_watch(&mut self) {
        let known = self.known.clone();
        let spots = vec![self.one_of(&known.spots).to_owned()];
        let mut selection = SelectionServiceClient::new(self.channel.clone());
        match self.pick(3) {
            0 => {
                let Some(run) = self.start(v1::RunSpec { draws: 5_000, ..spec(spots) }).await else { return };
                let cancel = v1::CancelRunRequest { name: run.name };
                self.call("SelectionService/CancelRun", selection.cancel_run(cancel)).await;
            }
            1 => {
                let manner = self.manner();
                self.watch_one(spec(spots), manner).await;
            }
            _ => {
                let request = v1::ListRunsRequest { page_size: 20, ..Default::default() };
                self.call("SelectionService/ListRuns", selection.list_runs(request)).await;
                let request = v1::GetRunRequest { name: known.run.clone() };
                self.call("SelectionService/GetRun", selection.get_run(request)).await;
            }
        }
    }

    pub(super) async fn read_findings(&mut self) {
        let known = self.known.clone();
        let mut selection = SelectionServiceClient::new(self.channel.clone());
        match self.pick(6) {
            0 => {
                let parent = known.run.clone();
                let request = v1::ListFindingsRequest { parent, page_size: 100, ..Default::default() };
                self.call("SelectionService/ListFindings", selection.list_findings(request)).await;
            }
            1 | 2 => {
                let request = v1::StreamFindingsRequest { parent: known.run.clone(), ..Default::default() };
                let manner = self.manner();
                let mut selection = SelectionServiceClient::new(self.channel_for(manner).await);
                self.stream("SelectionService/StreamFindings", manner, selection.stream_findings(request)).await;
            }
            3 => {
                let request = v1::ExportFindingsRequest {
                    parent: known.run.clone(),
                    format: v1::FindingFormat::Xlsx.into(),
                    max_rank: 3,
                    ..Default::default()
                };
                let manner = self.manner();
                let mut selection = SelectionServiceClient::new(self.channel_for(manner).await);
                self.stream("SelectionService/ExportFindings", manner, selection.export_findings(request)).await;
            }
            4 => {
                let request = v1::SummarizeRunRequest { name: known.run.clone() };
                self.call("SelectionService/SummarizeRun", selection.summarize_run(request)).await;
            }
            _ => {
                let name = self.one_of(&known.findings).to_owned();
                let request = v1::ExplainFindingRequest { name };
                self.call("SelectionService/ExplainFinding", selection.explain_finding(request)).await;
            }
        }
    }

    /// One spot at once; now and then more draws than its deadline allows.
    pub(super) async fn evaluate(&mut self) {
        let known = self.known.clone();
        let spots = vec![self.one_of(&known.spots).to_owned()];
        let mut selection = SelectionServiceClient::new(self.channel.clone());
        let hurried = self.pick(3) == 0;
        let draws = if hurried { 50_000 } else { 32 };
        let mut request = Request::new(v1::EvaluateRequest {
            spec: Some(v1::RunSpec { draws, ..spec(spots) }),
            ..Default::default()
        });
        let takes = if hurried {
            request.set_timeout(Duration::from_millis(5 + self.pick(60)));
            Takes::ItsDeadline
        } else {
            Takes::Answers
        };
        self.call_within("SelectionService/Evaluate", takes, selection.evaluate(request)).await;
    }

    /// One sensor for two places.
    pub(super) async fn recommend(&mut self) {
        let known = self.known.clone();
        let spots = known.spots.iter().take(2).cloned().collect();
        let request =
            v1::RecommendRequest { spec: Some(v1::RunSpec { draws: 16, ..spec(spots) }), ..Default::default() };
        let manner = self.manner();
        let mut selection = SelectionServiceClient::new(self.channel_for(manner).await);
        self.stream("SelectionService/Recommend", manner, selection.recommend(request)).await;
    }

    pub(super) async fn derive_rules(&mut self) {
        let mut rules = RulesServiceClient::new(self.channel.clone());
        match self.pick(3) {
            0 => {
                let request = v1::DeriveShelterRulesRequest { spec: Some(rules_spec()) };
                let made = self.call("RulesService/DeriveShelterRules", rules.derive_shelter_rules(request)).await;
                let Some(made) = made else { return };
                let request = v1::DeleteShelterRulesRequest { name: made.name, force: false };
                self.call("RulesService/DeleteShelterRules", rules.delete_shelter_rules(request)).await;
            }
            1 => {
                let request = v1::LayOutShelterRequest { shelter: Some(self.known.shelter.clone()) };
                self.call("RulesService/LayOutShelter", rules.lay_out_shelter(request)).await;
            }
            _ => {
                let request = v1::GetShelterRulesRequest { name: self.known.rules.clone() };
                self.call("RulesService/GetShelterRules", rules.get_shelter_rules(request)).await;
                let request = v1::ListShelterRulesRequest { page_size: 20, ..Default::default() };
                self.call("RulesService/ListShelterRules", rules.list_shelter_rules(request)).await;
            }
        }
    }
}
