//! Events sent to other programs, after the Standard Webhooks specification 1.0.0: signed, tried
//! again for about three days, and delivered at least once.
//!
//! Whom to tell comes from the settings, what to tell them from the record's outbox. Knows nothing
//! of those who follow over a connection of their own.

mod courier;
mod listener;
mod request;
mod schedule;
mod secret;

pub use courier::Courier;
pub use listener::{Listener, ListenerError, ListenerUrl};
pub use request::{DeliveryError, TRY_TIME};
pub use schedule::{TRIES, next_try};
pub use secret::{Secret, SecretError};

use crate::record::{KnownListener, ListenerSetting, Record, RecordError};
use request::{Client, Message};
use thiserror::Error;

/// Why the listeners of the settings could not be taken on.
#[derive(Debug, Error)]
pub enum ListenersError {
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error(transparent)]
    Secret(#[from] SecretError),
}

/// A secret that was made just now; its listener's owner has to be told.
#[derive(Debug, Clone)]
pub struct NewSecret {
    pub url: ListenerUrl,
    pub secret: Secret,
}

/// Makes the record's listeners those of the settings. Who is given no secret keeps the one that
/// the record has, or gets a new one.
///
/// # Errors
/// Where the record cannot be written, or no secret can be made.
pub(super) async fn take_on(
    record: &Record,
    listeners: &[Listener],
) -> Result<(Vec<KnownListener>, Vec<NewSecret>), ListenersError> {
    let known = record.listeners().await?;
    let (mut settings, mut new) = (Vec::<ListenerSetting>::new(), Vec::new());
    for Listener { url, secret } in listeners {
        let text = url.as_text();
        // Named twice, on the command line and in the file, say: one listener all the same.
        let twice = settings.iter().position(|setting| setting.url == text);
        let given = secret.as_ref().map(Secret::reveal);
        if let Some(setting) = twice.and_then(|at| settings.get_mut(at)) {
            setting.secret = given.unwrap_or(std::mem::take(&mut setting.secret));
            new.retain(|new: &NewSecret| new.secret.reveal() == setting.secret);
            continue;
        }
        let kept = known.iter().find(|known| known.url == text).map(|known| known.secret.clone());
        let secret = match given.or(kept) {
            Some(secret) => secret,
            None => {
                let secret = Secret::generate()?;
                new.push(NewSecret { url: url.clone(), secret: secret.clone() });
                secret.reveal()
            }
        };
        settings.push(ListenerSetting { url: text, secret });
    }
    Ok((record.set_listeners(settings).await?, new))
}
