//! FleetService: units, bookings, checks and surveys; plans, assessments and fits.

mod assess;
pub(crate) mod loan;
mod plan;
mod survey;

use std::sync::Arc;

use domain::{BeamSurvey, Booking, Unit, UnitCheck};
use proto::v1;
use proto::v1::fleet_service_server::FleetService;
use tonic::{Request, Response, Status};

use crate::context::Shared;
use crate::crud::{self, CreateRequest, ListRequest, Listed, UpdateRequest, referrers};
use crate::documents;
use crate::reflect::Depth;
use crate::request::{Incoming, parts, whole};

/// The handlers of FleetService.
pub struct FleetHandlers {
    shared: Arc<Shared>,
}

impl FleetHandlers {
    pub(crate) fn new(shared: Arc<Shared>) -> Self {
        Self { shared }
    }
}

#[tonic::async_trait]
impl FleetService for FleetHandlers {
    async fn get_unit(&self, request: Request<v1::GetUnitRequest>) -> Result<Response<v1::Unit>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<Unit>(&self.shared, &request.name).await?))
    }

    async fn list_units(
        &self,
        request: Request<v1::ListUnitsRequest>,
    ) -> Result<Response<v1::ListUnitsResponse>, Status> {
        let Incoming { message: v1::ListUnitsRequest { page_size, page_token, filter }, caller } = whole(request)?;
        let listed = crud::list::<Unit>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: units, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListUnitsResponse { units, next_page_token, total_size }))
    }

    async fn create_unit(&self, request: Request<v1::CreateUnitRequest>) -> Result<Response<v1::Unit>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let request = CreateRequest { id: message.unit_id, record: message.unit, missing, caller };
        Ok(Response::new(crud::create::<Unit>(&self.shared, request).await?))
    }

    async fn update_unit(&self, request: Request<v1::UpdateUnitRequest>) -> Result<Response<v1::Unit>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.unit, mask: message.update_mask, caller };
        Ok(Response::new(crud::update::<Unit>(&self.shared, request).await?))
    }

    async fn delete_unit(&self, request: Request<v1::DeleteUnitRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<Unit>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller).await?;
        Ok(Response::new(()))
    }

    async fn get_booking(&self, request: Request<v1::GetBookingRequest>) -> Result<Response<v1::Booking>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<Booking>(&self.shared, &request.name).await?))
    }

    async fn list_bookings(
        &self,
        request: Request<v1::ListBookingsRequest>,
    ) -> Result<Response<v1::ListBookingsResponse>, Status> {
        let Incoming { message: v1::ListBookingsRequest { page_size, page_token, filter }, caller } = whole(request)?;
        let listed = crud::list::<Booking>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: bookings, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListBookingsResponse { bookings, next_page_token, total_size }))
    }

    async fn create_booking(
        &self,
        request: Request<v1::CreateBookingRequest>,
    ) -> Result<Response<v1::Booking>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let request = CreateRequest { id: message.booking_id, record: message.booking, missing, caller };
        Ok(Response::new(crud::create::<Booking>(&self.shared, request).await?))
    }

    async fn update_booking(
        &self,
        request: Request<v1::UpdateBookingRequest>,
    ) -> Result<Response<v1::Booking>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.booking, mask: message.update_mask, caller: caller.clone() };
        let booking = crud::update::<Booking>(&self.shared, request).await?;
        loan::follow(&self.shared, caller).await?;
        Ok(Response::new(booking))
    }

    async fn delete_booking(&self, request: Request<v1::DeleteBookingRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<Booking>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller).await?;
        Ok(Response::new(()))
    }

    async fn get_unit_check(
        &self,
        request: Request<v1::GetUnitCheckRequest>,
    ) -> Result<Response<v1::UnitCheck>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<UnitCheck>(&self.shared, &request.name).await?))
    }

    async fn list_unit_checks(
        &self,
        request: Request<v1::ListUnitChecksRequest>,
    ) -> Result<Response<v1::ListUnitChecksResponse>, Status> {
        let Incoming { message: v1::ListUnitChecksRequest { page_size, page_token, filter }, caller } = whole(request)?;
        let listed =
            crud::list::<UnitCheck>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: unit_checks, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListUnitChecksResponse { unit_checks, next_page_token, total_size }))
    }

    async fn record_unit_check(
        &self,
        request: Request<v1::RecordUnitCheckRequest>,
    ) -> Result<Response<v1::UnitCheck>, Status> {
        let (Incoming { message, caller }, mut missing) = parts(request, Depth::Whole)?;
        if let Some(check) = &message.unit_check {
            missing.extend(assess::misread_faults(&self.shared, check).await?);
        }
        let request = CreateRequest { id: message.unit_check_id, record: message.unit_check, missing, caller };
        Ok(Response::new(crud::create::<UnitCheck>(&self.shared, request).await?))
    }

    async fn update_unit_check(
        &self,
        request: Request<v1::UpdateUnitCheckRequest>,
    ) -> Result<Response<v1::UnitCheck>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.unit_check, mask: message.update_mask, caller };
        Ok(Response::new(crud::update::<UnitCheck>(&self.shared, request).await?))
    }

    async fn delete_unit_check(&self, request: Request<v1::DeleteUnitCheckRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<UnitCheck>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller)
            .await?;
        Ok(Response::new(()))
    }

    async fn get_beam_survey(
        &self,
        request: Request<v1::GetBeamSurveyRequest>,
    ) -> Result<Response<v1::BeamSurvey>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<BeamSurvey>(&self.shared, &request.name).await?))
    }

    async fn list_beam_surveys(
        &self,
        request: Request<v1::ListBeamSurveysRequest>,
    ) -> Result<Response<v1::ListBeamSurveysResponse>, Status> {
        let Incoming { message: v1::ListBeamSurveysRequest { page_size, page_token, filter }, caller } =
            whole(request)?;
        let listed =
            crud::list::<BeamSurvey>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: beam_surveys, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListBeamSurveysResponse { beam_surveys, next_page_token, total_size }))
    }

    async fn record_beam_survey(
        &self,
        request: Request<v1::RecordBeamSurveyRequest>,
    ) -> Result<Response<v1::BeamSurvey>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let request = CreateRequest { id: message.beam_survey_id, record: message.beam_survey, missing, caller };
        Ok(Response::new(crud::create::<BeamSurvey>(&self.shared, request).await?))
    }

    async fn update_beam_survey(
        &self,
        request: Request<v1::UpdateBeamSurveyRequest>,
    ) -> Result<Response<v1::BeamSurvey>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.beam_survey, mask: message.update_mask, caller };
        Ok(Response::new(crud::update::<BeamSurvey>(&self.shared, request).await?))
    }

    async fn delete_beam_survey(&self, request: Request<v1::DeleteBeamSurveyRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<BeamSurvey>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller)
            .await?;
        Ok(Response::new(()))
    }

    async fn plan_fleet(&self, request: Request<v1::PlanFleetRequest>) -> Result<Response<v1::FleetPlan>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(plan::plan(&self.shared, message, caller).await?))
    }

    async fn hand_out_units(
        &self,
        request: Request<v1::HandOutUnitsRequest>,
    ) -> Result<Response<v1::HandOutUnitsResponse>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(loan::hand_out(&self.shared, message, caller).await?))
    }

    async fn take_back_units(
        &self,
        request: Request<v1::TakeBackUnitsRequest>,
    ) -> Result<Response<v1::TakeBackUnitsResponse>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(v1::TakeBackUnitsResponse { units: loan::take_back(&self.shared, message, caller).await? }))
    }

    async fn assess_units(
        &self,
        request: Request<v1::AssessUnitsRequest>,
    ) -> Result<Response<v1::UnitAssessment>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(assess::assess(&self.shared, message, caller).await?))
    }

    async fn draft_beam_survey(
        &self,
        request: Request<v1::DraftBeamSurveyRequest>,
    ) -> Result<Response<v1::BeamSurveyDraft>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        Ok(Response::new(survey::draft(&self.shared, &message, missing, caller).await?))
    }

    async fn get_beam_survey_draft(
        &self,
        request: Request<v1::GetBeamSurveyDraftRequest>,
    ) -> Result<Response<v1::BeamSurveyDraft>, Status> {
        let name = whole(request)?.message.name;
        Ok(Response::new(documents::get(&self.shared, "name", &name).await?))
    }

    async fn fit_beam_survey(
        &self,
        request: Request<v1::FitBeamSurveyRequest>,
    ) -> Result<Response<v1::BeamFit>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(survey::fit(&self.shared, &message.survey, caller).await?))
    }

    async fn adopt_pattern(&self, request: Request<v1::AdoptPatternRequest>) -> Result<Response<v1::Sensor>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(survey::adopt(&self.shared, &message, caller).await?))
    }

    async fn delete_fleet_plan(&self, request: Request<v1::DeleteFleetPlanRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        documents::delete::<v1::FleetPlan>(&self.shared, (&message.name, message.force), caller).await
    }

    async fn delete_unit_assessment(
        &self,
        request: Request<v1::DeleteUnitAssessmentRequest>,
    ) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        documents::delete::<v1::UnitAssessment>(&self.shared, (&message.name, message.force), caller).await
    }

    async fn delete_beam_survey_draft(
        &self,
        request: Request<v1::DeleteBeamSurveyDraftRequest>,
    ) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        documents::delete::<v1::BeamSurveyDraft>(&self.shared, (&message.name, message.force), caller).await
    }

    async fn delete_beam_fit(&self, request: Request<v1::DeleteBeamFitRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        documents::delete::<v1::BeamFit>(&self.shared, (&message.name, message.force), caller).await
    }

    async fn get_fleet_plan(
        &self,
        request: Request<v1::GetFleetPlanRequest>,
    ) -> Result<Response<v1::FleetPlan>, Status> {
        let name = whole(request)?.message.name;
        Ok(Response::new(documents::get(&self.shared, "name", &name).await?))
    }

    async fn list_fleet_plans(
        &self,
        request: Request<v1::ListFleetPlansRequest>,
    ) -> Result<Response<v1::ListFleetPlansResponse>, Status> {
        let v1::ListFleetPlansRequest { page_size, page_token } = whole(request)?.message;
        let documents::Listed { items: fleet_plans, next_page_token } =
            documents::list(&self.shared, (page_size, &page_token)).await?;
        Ok(Response::new(v1::ListFleetPlansResponse { fleet_plans, next_page_token }))
    }

    async fn get_unit_assessment(
        &self,
        request: Request<v1::GetUnitAssessmentRequest>,
    ) -> Result<Response<v1::UnitAssessment>, Status> {
        let name = whole(request)?.message.name;
        Ok(Response::new(documents::get(&self.shared, "name", &name).await?))
    }

    async fn list_unit_assessments(
        &self,
        request: Request<v1::ListUnitAssessmentsRequest>,
    ) -> Result<Response<v1::ListUnitAssessmentsResponse>, Status> {
        let v1::ListUnitAssessmentsRequest { page_size, page_token } = whole(request)?.message;
        let documents::Listed { items: unit_assessments, next_page_token } =
            documents::list(&self.shared, (page_size, &page_token)).await?;
        Ok(Response::new(v1::ListUnitAssessmentsResponse { unit_assessments, next_page_token }))
    }

    async fn get_beam_fit(&self, request: Request<v1::GetBeamFitRequest>) -> Result<Response<v1::BeamFit>, Status> {
        let name = whole(request)?.message.name;
        Ok(Response::new(documents::get(&self.shared, "name", &name).await?))
    }

    async fn list_beam_fits(
        &self,
        request: Request<v1::ListBeamFitsRequest>,
    ) -> Result<Response<v1::ListBeamFitsResponse>, Status> {
        let v1::ListBeamFitsRequest { page_size, page_token } = whole(request)?.message;
        let documents::Listed { items: beam_fits, next_page_token } =
            documents::list(&self.shared, (page_size, &page_token)).await?;
        Ok(Response::new(v1::ListBeamFitsResponse { beam_fits, next_page_token }))
    }
}
