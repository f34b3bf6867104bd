//! The services over one context, ready for a tonic server.

use std::sync::Arc;

use proto::v1::admin_service_server::AdminServiceServer;
use proto::v1::catalog_service_server::CatalogServiceServer;
use proto::v1::fleet_service_server::FleetServiceServer;
use proto::v1::report_service_server::ReportServiceServer;
use proto::v1::rules_service_server::RulesServiceServer;
use proto::v1::selection_service_server::SelectionServiceServer;

use crate::admin_service::AdminHandlers;
use crate::catalog_service::CatalogHandlers;
use crate::context::{Context, Shared};
use crate::fleet_service::FleetHandlers;
use crate::report_service::ReportHandlers;
use crate::rules_service::RulesHandlers;
use crate::selection_service::SelectionHandlers;

/// The services.
pub struct Services {
    /// CatalogService.
    pub catalog: CatalogServiceServer<CatalogHandlers>,
    /// SelectionService.
    pub selection: SelectionServiceServer<SelectionHandlers>,
    /// RulesService.
    pub rules: RulesServiceServer<RulesHandlers>,
    /// FleetService.
    pub fleet: FleetServiceServer<FleetHandlers>,
    /// ReportService.
    pub report: ReportServiceServer<ReportHandlers>,
    /// AdminService.
    pub admin: AdminServiceServer<AdminHandlers>,
}

impl Services {
    /// The services over a context, with its message size limit.
    #[must_use]
    pub fn new(context: Context) -> Self {
        let bytes = context.limits.message_bytes;
        let shared = Arc::new(Shared::new(context));
        Self {
            catalog: CatalogServiceServer::new(CatalogHandlers::new(Arc::clone(&shared)))
                .max_decoding_message_size(bytes),
            selection: SelectionServiceServer::new(SelectionHandlers::new(Arc::clone(&shared)))
                .max_decoding_message_size(bytes),
            rules: RulesServiceServer::new(RulesHandlers::new(Arc::clone(&shared))).max_decoding_message_size(bytes),
            fleet: FleetServiceServer::new(FleetHandlers::new(Arc::clone(&shared))).max_decoding_message_size(bytes),
            report: ReportServiceServer::new(ReportHandlers::new(Arc::clone(&shared))).max_decoding_message_size(bytes),
            admin: AdminServiceServer::new(AdminHandlers::new(shared)).max_decoding_message_size(bytes),
        }
    }
}
