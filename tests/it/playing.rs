//! The made-up player before a service's cameras: each rest is one frame.

use crate::{
    client::post,
    played::rests,
    staging::{Script, png},
};
use image::RgbImage;
use std::{net::SocketAddr, sync::Arc, time::Duration};
use stillcloth::{
    service::{FrameReader, ReaderError, ReaderFactory},
    vision::{Look, Reading},
};

/// Reads off a frame's first pixel which rest of the player's it shows.
struct Plays;

impl FrameReader for Plays {
    fn read(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError> {
        let [_, index, _] = frame.get_pixel(0, 0).0;
        let played = rests().nth(usize::from(index)).expect("it plays without end");
        Ok(Reading { layout: played.layout, rejected: Vec::new() })
    }

    fn watch(&mut self, _: &RgbImage, _: Duration) -> Result<Look, ReaderError> {
        panic!("these frames are sent singly")
    }
}

/// For a service before whose cameras the player plays: see [`send`].
pub fn readers() -> ReaderFactory {
    Arc::new(|_| Box::new(Plays))
}

/// Sends the player's rest of a number, counted from 0, by a camera; its id in the record.
pub fn send(at: SocketAddr, camera: &str, index: usize) -> i64 {
    let frame = png(Script::Read, u8::try_from(index).unwrap(), 0);
    let sent = post(at, &format!("/api/frames?camera={camera}"), "image/png", &frame);
    assert_eq!(sent.status, 201, "{}", sent.text());
    sent.json()["id"].as_i64().unwrap()
}
