//! Callers of the catalog.

use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use proto::v1::import_records_request::Part;

use super::Caller;
use super::records::life;

impl Caller {
    pub(super) async fn look_up(&mut self) {
        let mut catalog = CatalogServiceClient::new(self.channel.clone());
        let known = self.known.clone();
        let name = self.one_of(&known.spots).to_owned();
        self.call("CatalogService/GetSpot", catalog.get_spot(v1::GetSpotRequest { name })).await;
        match self.pick(4) {
            0 => {
                let filter = "depth_m > 6".to_owned();
                let request = v1::ListSpotsRequest { page_size: 10, filter, ..Default::default() };
                let page = self.call("CatalogService/ListSpots", catalog.list_spots(request.clone())).await;
                let Some(page_token) = page.map(|page| page.next_page_token).filter(|token| !token.is_empty()) else {
                    return;
                };
                let next = v1::ListSpotsRequest { page_token, ..request };
                self.call("CatalogService/ListSpots", catalog.list_spots(next)).await;
            }
            1 => {
                let request = v1::ListSensorsRequest::default();
                self.call("CatalogService/ListSensors", catalog.list_sensors(request)).await;
            }
            2 => {
                let request = v1::ListTargetsRequest::default();
                self.call("CatalogService/ListTargets", catalog.list_targets(request)).await;
            }
            _ => {
                let request = v1::ListSheltersRequest::default();
                self.call("CatalogService/ListShelters", catalog.list_shelters(request)).await;
            }
        }
    }

    pub(super) async fn keep_records_of_the_catalogue(&mut self) {
        match self.pick(5) {
            0 => life!(
                self, CatalogServiceClient, "CatalogService", self.known.spot.clone(), spot,
                create_spot CreateSpotRequest spot_id "CreateSpot",
                get_spot GetSpotRequest "GetSpot",
                update_spot UpdateSpotRequest "UpdateSpot",
                list_spots ListSpotsRequest "ListSpots",
                delete_spot DeleteSpotRequest "DeleteSpot"
            ),
            1 => life!(
                self, CatalogServiceClient, "CatalogService", self.known.sensor.clone(), sensor,
                create_sensor CreateSensorRequest sensor_id "CreateSensor",
                get_sensor GetSensorRequest "GetSensor",
                update_sensor UpdateSensorRequest "UpdateSensor",
                list_sensors ListSensorsRequest "ListSensors",
                delete_sensor DeleteSensorRequest "DeleteSensor"
            ),
            2 => life!(
                self, CatalogServiceClient, "CatalogService", self.known.shelter.clone(), shelter,
                create_shelter CreateShelterRequest shelter_id "CreateShelter",
                get_shelter GetShelterRequest "GetShelter",
                update_shelter UpdateShelterRequest "UpdateShelter",
                list_shelters ListSheltersRequest "ListShelters",
                delete_shelter DeleteShelterRequest "DeleteShelter"
            ),
            3 => life!(
                self, CatalogServiceClient, "CatalogService", self.known.goal.clone(), custom_goal,
                create_custom_goal CreateCustomGoalRequest custom_goal_id "CreateCustomGoal",
                get_custom_goal GetCustomGoalRequest "GetCustomGoal",
                update_custom_goal UpdateCustomGoalRequest "UpdateCustomGoal",
                list_custom_goals ListCustomGoalsRequest "ListCustomGoals",
                delete_custom_goal DeleteCustomGoalRequest "DeleteCustomGoal"
            ),
            _ => life!(
                self, CatalogServiceClient, "CatalogService", self.known.target.clone(), target,
                create_target CreateTargetRequest target_id "CreateTarget",
                get_target GetTargetRequest "GetTarget",
                update_target UpdateTargetRequest "UpdateTarget",
                list_targets ListTargetsRequest "ListTargets",
                delete_target DeleteTargetRequest "DeleteTarget"
            ),
        }
    }

    /// Spots of its own, over and over again; now and then it goes away in the middle of the file.
    pub(super) async fn import(&mut self) {
        let header = v1::ImportHeader {
            kind: v1::RecordKind::Spots.into(),
            format: v1::RecordFormat::Csv.into(),
            replace_existing: true,
            ..Default::default()
        };
        let rows: String = (0..100)
            .map(|row| {
                format!("import-{}-{row},Row {row} of caller {},{}.5,gravel\n", self.number, self.number, 2 + row % 20)
            })
            .collect();
        let file = format!("id,display_name,depth_m,bottom_class\n{rows}");
        let mut catalog = CatalogServiceClient::new(self.channel.clone());
        let parts = [Part::Header(header), Part::Chunk(file.into_bytes().into())];
        let parts = parts.map(|part| v1::ImportRecordsRequest { part: Some(part) });
        if self.pick(4) == 0 {
            // The rest of the file never comes.
            let endless = tokio_stream::StreamExt::chain(tokio_stream::iter(parts), tokio_stream::pending());
            let call = tokio::time::timeout(std::time::Duration::from_millis(50), catalog.import_records(endless));
            if call.await.is_err() {
                self.tally.left("CatalogService/ImportRecords");
            }
            return;
        }
        self.call("CatalogService/ImportRecords", catalog.import_records(tokio_stream::iter(parts))).await;
    }

    pub(super) async fn export(&mut self) {
        use v1::RecordFormat::{Csv, GeoJson, Gpx, JsonLines, Xlsx};
        // Way points and features of the demo's spots alone: rows of imports have no position.
        let (format, filter) = match self.pick(5) {
            0 => (Csv, ""),
            1 => (JsonLines, ""),
            2 => (Xlsx, ""),
            3 => (Gpx, "lake = \"Tarn Vesper\""),
            _ => (GeoJson, "lake = \"Tarn Vesper\""),
        };
        let request = v1::ExportRecordsRequest {
            kind: v1::RecordKind::Spots.into(),
            format: format.into(),
            filter: filter.to_owned(),
            ..Default::default()
        };
        let manner = self.manner();
        let mut catalog = CatalogServiceClient::new(self.channel_for(manner).await);
        self.stream("CatalogService/ExportRecords", manner, catalog.export_records(request)).await;
    }
}
