//! Events sent to other programs, after the Standard Webhooks specification 1.0.0.

mod listener;
mod request;
mod schedule;
mod secret;

pub use listener::{Listener, ListenerError, ListenerUrl};
pub use request::{DeliveryError, TRY_TIME};
pub use schedule::TRIES;
pub use secret::{Secret, SecretError};
