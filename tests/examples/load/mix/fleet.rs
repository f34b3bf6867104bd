//! Callers of fleets.

use proto::v1;
use proto::v1::fleet_service_client::FleetServiceClient;

use super::Caller;
use super::known::{draft_request, fit_request, fleet_spec};
use super::records::life;

impl Caller {
    pub(super) async fn keep_records_of_the_fleet(&mut self) {
        match self.pick(4) {
            0 => life!(
                self, FleetServiceClient, "FleetService", self.own_unit(), unit,
                create_unit CreateUnitRequest unit_id "CreateUnit",
                get_unit GetUnitRequest "GetUnit",
                update_unit UpdateUnitRequest "UpdateUnit",
                list_units ListUnitsRequest "ListUnits",
                delete_unit DeleteUnitRequest "DeleteUnit"
            ),
            1 => life!(
                self, FleetServiceClient, "FleetService", self.known.booking.clone(), booking,
                create_booking CreateBookingRequest booking_id "CreateBooking",
                get_booking GetBookingRequest "GetBooking",
                update_booking UpdateBookingRequest "UpdateBooking",
                list_bookings ListBookingsRequest "ListBookings",
                delete_booking DeleteBookingRequest "DeleteBooking"
            ),
            2 => life!(
                self, FleetServiceClient, "FleetService", self.known.check.clone(), unit_check,
                record_unit_check RecordUnitCheckRequest unit_check_id "RecordUnitCheck",
                get_unit_check GetUnitCheckRequest "GetUnitCheck",
                update_unit_check UpdateUnitCheckRequest "UpdateUnitCheck",
                list_unit_checks ListUnitChecksRequest "ListUnitChecks",
                delete_unit_check DeleteUnitCheckRequest "DeleteUnitCheck"
            ),
            _ => life!(
                self, FleetServiceClient, "FleetService", self.known.survey.clone(), beam_survey,
                record_beam_survey RecordBeamSurveyRequest beam_survey_id "RecordBeamSurvey",
                get_beam_survey GetBeamSurveyRequest "GetBeamSurvey",
                update_beam_survey UpdateBeamSurveyRequest "UpdateBeamSurvey",
                list_beam_surveys ListBeamSurveysRequest "ListBeamSurveys",
                delete_beam_survey DeleteBeamSurveyRequest "DeleteBeamSurvey"
            ),
        }
    }

    /// Serial numbers are given once.
    fn own_unit(&self) -> v1::Unit {
        v1::Unit { serial: format!("L-{}-{}", self.number, self.made), ..self.known.unit.clone() }
    }

    pub(super) async fn derive_for_the_fleet(&mut self) {
        let mut fleet = FleetServiceClient::new(self.channel.clone());
        match self.pick(8) {
            0 | 1 => {
                let request = v1::PlanFleetRequest { spec: Some(fleet_spec()), ..v1::PlanFleetRequest::default() };
                let made = self.call("FleetService/PlanFleet", fleet.plan_fleet(request)).await;
                let Some(made) = made else { return };
                let request = v1::DeleteFleetPlanRequest { name: made.name, force: false };
                self.call("FleetService/DeleteFleetPlan", fleet.delete_fleet_plan(request)).await;
            }
            2 => {
                let request = v1::AssessUnitsRequest::default();
                let made = self.call("FleetService/AssessUnits", fleet.assess_units(request)).await;
                let Some(made) = made else { return };
                let request = v1::DeleteUnitAssessmentRequest { name: made.name, force: false };
                self.call("FleetService/DeleteUnitAssessment", fleet.delete_unit_assessment(request)).await;
            }
            3 => {
                let made = self.call("FleetService/DraftBeamSurvey", fleet.draft_beam_survey(draft_request())).await;
                let Some(made) = made else { return };
                let request = v1::DeleteBeamSurveyDraftRequest { name: made.name, force: false };
                self.call("FleetService/DeleteBeamSurveyDraft", fleet.delete_beam_survey_draft(request)).await;
            }
            4 => {
                let made = self.call("FleetService/FitBeamSurvey", fleet.fit_beam_survey(fit_request())).await;
                let Some(made) = made else { return };
                let request = v1::DeleteBeamFitRequest { name: made.name, force: false };
                self.call("FleetService/DeleteBeamFit", fleet.delete_beam_fit(request)).await;
            }
            5 => {
                let request = v1::AdoptPatternRequest { fit: self.known.fit.clone(), ..Default::default() };
                self.call("FleetService/AdoptPattern", fleet.adopt_pattern(request)).await;
            }
            6 => {
                let request = v1::GetFleetPlanRequest { name: self.known.plan.clone() };
                self.call("FleetService/GetFleetPlan", fleet.get_fleet_plan(request)).await;
                let request = v1::GetUnitAssessmentRequest { name: self.known.assessment.clone() };
                self.call("FleetService/GetUnitAssessment", fleet.get_unit_assessment(request)).await;
                let request = v1::GetBeamSurveyDraftRequest { name: self.known.draft.clone() };
                self.call("FleetService/GetBeamSurveyDraft", fleet.get_beam_survey_draft(request)).await;
                let request = v1::GetBeamFitRequest { name: self.known.fit.clone() };
                self.call("FleetService/GetBeamFit", fleet.get_beam_fit(request)).await;
            }
            _ => {
                let request = v1::ListFleetPlansRequest { page_size: 20, ..Default::default() };
                self.call("FleetService/ListFleetPlans", fleet.list_fleet_plans(request)).await;
                let request = v1::ListUnitAssessmentsRequest { page_size: 20, ..Default::default() };
                self.call("FleetService/ListUnitAssessments", fleet.list_unit_assessments(request)).await;
                let request = v1::ListBeamFitsRequest { page_size: 20, ..Default::default() };
                self.call("FleetService/ListBeamFits", fleet.list_beam_fits(request)).await;
            }
        }
    }
}
