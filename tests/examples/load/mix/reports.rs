//! Callers of reports.

use proto::v1;
use proto::v1::report_service_client::ReportServiceClient;

use super::Caller;
use super::known::render_request;

impl Caller {
    /// Seldom a new page, which is the dearest thing there is; mostly one that is there already.
    pub(super) async fn report(&mut self) {
        let known = self.known.clone();
        let mut reports = ReportServiceClient::new(self.channel.clone());
        match self.pick(48) {
            0 => {
                let title = self.new_id();
                let request = render_request(&known.run, title);
                let made = self.call("ReportService/RenderReport", reports.render_report(request)).await;
                let Some(made) = made else { return };
                let request = v1::DeleteReportRequest { name: made.name };
                self.call("ReportService/DeleteReport", reports.delete_report(request)).await;
            }
            1 => {
                let name = "templates/customer-sheet".to_owned();
                let request = v1::CheckTemplateRequest { name, ..Default::default() };
                self.call("ReportService/CheckTemplate", reports.check_template(request)).await;
            }
            2 => {
                let name = "templates/customer-sheet".to_owned();
                let request = v1::PreviewTemplateRequest { name, ..Default::default() };
                let manner = self.manner();
                self.stream("ReportService/PreviewTemplate", manner, reports.preview_template(request)).await;
            }
            3..18 => {
                let request = render_request(&known.run, "First".to_owned());
                self.call("ReportService/RenderReport", reports.render_report(request)).await;
            }
            18..33 => {
                let request = v1::DownloadReportRequest { name: known.report.clone() };
                let manner = self.manner();
                let mut reports = ReportServiceClient::new(self.channel_for(manner).await);
                self.stream("ReportService/DownloadReport", manner, reports.download_report(request)).await;
            }
            _ => {
                let request = v1::ListTemplatesRequest::default();
                self.call("ReportService/ListTemplates", reports.list_templates(request)).await;
                let request = v1::GetReportRequest { name: known.report.clone() };
                self.call("ReportService/GetReport", reports.get_report(request)).await;
                let request = v1::ListReportsRequest { page_size: 20, ..Default::default() };
                self.call("ReportService/ListReports", reports.list_reports(request)).await;
            }
        }
    }
}
