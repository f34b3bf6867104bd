//! CatalogService: sensors, spots, shelters, targets and goals; import and export.

pub(crate) mod export;
mod import;

use std::sync::Arc;

use domain::{GoalRecord, SensorRecord, ShelterRecord, SpotRecord, TargetRecord};
use proto::v1;
use proto::v1::catalog_service_server::CatalogService;
use tonic::codegen::BoxStream;
use tonic::{Request, Response, Status, Streaming};

use crate::context::Shared;
use crate::crud::{self, CreateRequest, ListRequest, Listed, UpdateRequest, referrers};
use crate::reflect::Depth;
use crate::request::{Incoming, parts, whole};

/// The handlers of CatalogService.
pub struct CatalogHandlers {
    shared: Arc<Shared>,
}

impl CatalogHandlers {
    pub(crate) fn new(shared: Arc<Shared>) -> Self {
        Self { shared }
    }
}

#[tonic::async_trait]
impl CatalogService for CatalogHandlers {
    type ExportRecordsStream = BoxStream<v1::ExportRecordsResponse>;

    async fn get_sensor(&self, request: Request<v1::GetSensorRequest>) -> Result<Response<v1::Sensor>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<SensorRecord>(&self.shared, &request.name).await?))
    }

    async fn list_sensors(
        &self,
        request: Request<v1::ListSensorsRequest>,
    ) -> Result<Response<v1::ListSensorsResponse>, Status> {
        let Incoming { message: v1::ListSensorsRequest { page_size, page_token, filter }, caller } = whole(request)?;
        let listed =
            crud::list::<SensorRecord>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: sensors, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListSensorsResponse { sensors, next_page_token, total_size }))
    }

    async fn create_sensor(&self, request: Request<v1::CreateSensorRequest>) -> Result<Response<v1::Sensor>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let request = CreateRequest { id: message.sensor_id, record: message.sensor, missing, caller };
        Ok(Response::new(crud::create::<SensorRecord>(&self.shared, request).await?))
    }

    async fn update_sensor(&self, request: Request<v1::UpdateSensorRequest>) -> Result<Response<v1::Sensor>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.sensor, mask: message.update_mask, caller };
        Ok(Response::new(crud::update::<SensorRecord>(&self.shared, request).await?))
    }

    async fn delete_sensor(&self, request: Request<v1::DeleteSensorRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<SensorRecord>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller)
            .await?;
        Ok(Response::new(()))
    }

    async fn get_spot(&self, request: Request<v1::GetSpotRequest>) -> Result<Response<v1::Spot>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<SpotRecord>(&self.shared, &request.name).await?))
    }

    async fn list_spots(
        &self,
        request: Request<v1::ListSpotsRequest>,
    ) -> Result<Response<v1::ListSpotsResponse>, Status> {
        let Incoming { message: v1::ListSpotsRequest { page_size, page_token, filter }, caller } = whole(request)?;
        let listed =
            crud::list::<SpotRecord>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: spots, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListSpotsResponse { spots, next_page_token, total_size }))
    }

    async fn create_spot(&self, request: Request<v1::CreateSpotRequest>) -> Result<Response<v1::Spot>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let request = CreateRequest { id: message.spot_id, record: message.spot, missing, caller };
        Ok(Response::new(crud::create::<SpotRecord>(&self.shared, request).await?))
    }

    async fn update_spot(&self, request: Request<v1::UpdateSpotRequest>) -> Result<Response<v1::Spot>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.spot, mask: message.update_mask, caller };
        Ok(Response::new(crud::update::<SpotRecord>(&self.shared, request).await?))
    }

    async fn delete_spot(&self, request: Request<v1::DeleteSpotRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<SpotRecord>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller)
            .await?;
        Ok(Response::new(()))
    }

    async fn get_shelter(&self, request: Request<v1::GetShelterRequest>) -> Result<Response<v1::Shelter>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<ShelterRecord>(&self.shared, &request.name).await?))
    }

    async fn list_shelters(
        &self,
        request: Request<v1::ListSheltersRequest>,
    ) -> Result<Response<v1::ListSheltersResponse>, Status> {
        let Incoming { message: v1::ListSheltersRequest { page_size, page_token, filter }, caller } = whole(request)?;
        let listed =
            crud::list::<ShelterRecord>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: shelters, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListSheltersResponse { shelters, next_page_token, total_size }))
    }

    async fn create_shelter(
        &self,
        request: Request<v1::CreateShelterRequest>,
    ) -> Result<Response<v1::Shelter>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let request = CreateRequest { id: message.shelter_id, record: message.shelter, missing, caller };
        Ok(Response::new(crud::create::<ShelterRecord>(&self.shared, request).await?))
    }

    async fn update_shelter(
        &self,
        request: Request<v1::UpdateShelterRequest>,
    ) -> Result<Response<v1::Shelter>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.shelter, mask: message.update_mask, caller };
        Ok(Response::new(crud::update::<ShelterRecord>(&self.shared, request).await?))
    }

    async fn delete_shelter(&self, request: Request<v1::DeleteShelterRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<ShelterRecord>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller)
            .await?;
        Ok(Response::new(()))
    }

    async fn get_target(&self, request: Request<v1::GetTargetRequest>) -> Result<Response<v1::Target>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<TargetRecord>(&self.shared, &request.name).await?))
    }

    async fn list_targets(
        &self,
        request: Request<v1::ListTargetsRequest>,
    ) -> Result<Response<v1::ListTargetsResponse>, Status> {
        let Incoming { message: v1::ListTargetsRequest { page_size, page_token, filter }, caller } = whole(request)?;
        let listed =
            crud::list::<TargetRecord>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: targets, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListTargetsResponse { targets, next_page_token, total_size }))
    }

    async fn create_target(&self, request: Request<v1::CreateTargetRequest>) -> Result<Response<v1::Target>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let request = CreateRequest { id: message.target_id, record: message.target, missing, caller };
        Ok(Response::new(crud::create::<TargetRecord>(&self.shared, request).await?))
    }

    async fn update_target(&self, request: Request<v1::UpdateTargetRequest>) -> Result<Response<v1::Target>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.target, mask: message.update_mask, caller };
        Ok(Response::new(crud::update::<TargetRecord>(&self.shared, request).await?))
    }

    async fn delete_target(&self, request: Request<v1::DeleteTargetRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<TargetRecord>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller)
            .await?;
        Ok(Response::new(()))
    }

    async fn get_custom_goal(
        &self,
        request: Request<v1::GetCustomGoalRequest>,
    ) -> Result<Response<v1::CustomGoal>, Status> {
        let request = whole(request)?.message;
        Ok(Response::new(crud::get::<GoalRecord>(&self.shared, &request.name).await?))
    }

    async fn list_custom_goals(
        &self,
        request: Request<v1::ListCustomGoalsRequest>,
    ) -> Result<Response<v1::ListCustomGoalsResponse>, Status> {
        let Incoming { message: v1::ListCustomGoalsRequest { page_size, page_token, filter }, caller } =
            whole(request)?;
        let listed =
            crud::list::<GoalRecord>(&self.shared, ListRequest { page_size, page_token, filter, caller }).await?;
        let Listed { items: custom_goals, next_page_token, total_size } = listed;
        Ok(Response::new(v1::ListCustomGoalsResponse { custom_goals, next_page_token, total_size }))
    }

    async fn create_custom_goal(
        &self,
        request: Request<v1::CreateCustomGoalRequest>,
    ) -> Result<Response<v1::CustomGoal>, Status> {
        let (Incoming { message, caller }, missing) = parts(request, Depth::Whole)?;
        let request = CreateRequest { id: message.custom_goal_id, record: message.custom_goal, missing, caller };
        Ok(Response::new(crud::create::<GoalRecord>(&self.shared, request).await?))
    }

    async fn update_custom_goal(
        &self,
        request: Request<v1::UpdateCustomGoalRequest>,
    ) -> Result<Response<v1::CustomGoal>, Status> {
        let (Incoming { message, caller }, _) = parts(request, Depth::Own)?;
        let request = UpdateRequest { record: message.custom_goal, mask: message.update_mask, caller };
        Ok(Response::new(crud::update::<GoalRecord>(&self.shared, request).await?))
    }

    async fn delete_custom_goal(&self, request: Request<v1::DeleteCustomGoalRequest>) -> Result<Response<()>, Status> {
        let Incoming { message, caller } = whole(request)?;
        crud::delete::<GoalRecord>(&self.shared, (&message.name, &message.etag), referrers(message.force), caller)
            .await?;
        Ok(Response::new(()))
    }

    async fn import_records(
        &self,
        request: Request<Streaming<v1::ImportRecordsRequest>>,
    ) -> Result<Response<v1::ImportRecordsResponse>, Status> {
        Ok(Response::new(import::import(&self.shared, request).await?))
    }

    async fn export_records(
        &self,
        request: Request<v1::ExportRecordsRequest>,
    ) -> Result<Response<Self::ExportRecordsStream>, Status> {
        let Incoming { message, caller } = whole(request)?;
        Ok(Response::new(export::export(&self.shared, &message, caller).await?))
    }
}
