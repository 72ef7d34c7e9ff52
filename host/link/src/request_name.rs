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
        Request::Describe => "describe",
        Request::Load(_) => "load plan",
        Request::StartRun { .. } => "start",
        Request::KeepRunning { .. } => "keep alive",
        Request::Resume { .. } => "resume",
        Request::EnterBootLoader => "enter the boot loader",
        Request::FitAdapter(_) => "fit adapter",
        Request::ReadAdapter => "read adapter",
        Request::ReadTaps => "read taps",
        Request::ReadGauge => "read gauge",
    }
}
