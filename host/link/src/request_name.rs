//! What a request is called in messages.

use celltriage_protocol::request::Request;

/// Returns the name of a request.
pub(super) const fn name(request: &Request) -> &'static str {
    match request {
        Request::Identify => "identify",
        Request::LoadPlan(_) => "load plan",
        Request::Start { .. } => "start",
        Request::Stop => "stop",
        Request::AcknowledgeTrip { .. } => "acknowledge trip",
        Request::KeepAlive => "keep alive",
        Request::ReadState => "read state",
        Request::Calibrate(_) => "calibrate",
        Request::ReadCalibration => "read calibration",
        Request::ResendFrom { .. } => "resend",
    }
}
