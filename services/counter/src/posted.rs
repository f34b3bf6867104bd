//! Forms that are sent: read, bounded, and their mark checked.

use std::sync::Arc;

use axum::body::Body;
use axum::extract::Request;
use axum::response::{IntoResponse as _, Response};
use http::{Method, StatusCode};
use http_body_util::{BodyExt as _, Limited};

use crate::Counter;
use crate::answer;
use crate::fields::Fields;
use crate::stop::Stop;
use crate::visit::Visit;

/// Largest form, bytes.
const MAX_FORM: usize = 1024 * 1024;

/// Form of a page that the desk has sent, its mark checked.
pub(crate) struct Posted(pub(crate) Fields);

/// Reads a form and checks its mark.
pub(crate) async fn posted(visit: &Visit, request: Request) -> Result<Fields, Stop> {
    let fields = Fields::read(&whole(request.into_body()).await?);
    if visit.desk.marked(fields.get("mark")) { Ok(fields) } else { Err(Stop::BadForm) }
}

/// The bytes of a form.
async fn whole(body: Body) -> Result<Vec<u8>, Stop> {
    let body = Limited::new(body, MAX_FORM).collect().await.map_err(|_| Stop::TooLarge)?;
    Ok(body.to_bytes().to_vec())
}

impl axum::extract::FromRequest<Arc<Counter>> for Posted {
    type Rejection = Response;

    async fn from_request(request: Request, _: &Arc<Counter>) -> Result<Self, Response> {
        let visit = request.extensions().get::<Visit>().cloned();
        let Some(visit) = visit else { return Err(StatusCode::INTERNAL_SERVER_ERROR.into_response()) };
        debug_assert!(request.method() == Method::POST);
        posted(&visit, request).await.map(Self).map_err(|stop| answer::stopped(&visit, &stop))
    }
}
