//! Counts for whoever watches over the service, in the text format that Prometheus reads
//! (version 0.0.4).
//!
//! Whatever part of the service does something countable bumps its [`Metrics`]; what is a state
//! rather than a count (how a camera is doing, room on the disk) is looked up when it is asked for
//! and stands in [`Gauges`]. Counts begin at the program's start, as Prometheus expects.

use super::{CameraName, CameraStatus};
use std::{
    collections::BTreeMap,
    fmt::Write,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    time::Duration,
};

/// The media type of the text.
pub(super) const MEDIA_TYPE: &str = "text/plain; version=0.0.4; charset=utf-8";

/// Upper bounds of the buckets that latencies are counted in, in seconds. A rest is to be announced
/// within 1 s and usually within 0.5 s.
const LATENCY_BUCKETS_S: [f64; 9] = [0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0, 2.0, 5.0];

/// How a try to deliver an event went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Delivery {
    /// The listener took it.
    Delivered,
    /// It failed, and will be tried again.
    Failed,
    /// It failed for the last time.
    GivenUp,
    /// The listener said that it is gone for good.
    ListenerGone,
}

impl Delivery {
    const ALL: [Self; 4] = [Self::Delivered, Self::Failed, Self::GivenUp, Self::ListenerGone];

    fn name(self) -> &'static str {
        match self {
            Self::Delivered => "delivered",
            Self::Failed => "failed",
            Self::GivenUp => "given_up",
            Self::ListenerGone => "listener_gone",
        }
    }
}

/// What one camera came to.
#[derive(Debug, Default)]
struct CameraCounts {
    rests: u64,
    /// How many rests took no longer than each bound, and none of the bounds before it.
    latency: [u64; LATENCY_BUCKETS_S.len()],
    latency_s: f64,
}

#[derive(Debug, Default)]
struct Counts {
    cameras: BTreeMap<CameraName, CameraCounts>,
    deliveries: BTreeMap<Delivery, u64>,
    followers: usize,
    refused_followers: u64,
}

/// The counts of a service. Cheap to clone; all clones count together.
#[derive(Debug, Clone, Default)]
pub struct Metrics {
    counts: Arc<Mutex<Counts>>,
}

/// One who follows the events; counted until dropped.
#[derive(Debug)]
pub(super) struct FollowerCount(Metrics);

impl Drop for FollowerCount {
    fn drop(&mut self) {
        self.0.locked().followers -= 1;
    }
}

/// What is looked up at the time it is asked for.
#[derive(Debug, Default)]
pub(super) struct Gauges {
    pub(super) cameras: Vec<CameraStatus>,
    /// Deliveries that wait for their first try or another; none where the record does not tell.
    pub(super) waiting_deliveries: Option<u64>,
    /// The newest event's id.
    pub(super) newest_event: i64,
    /// Room on the record's disk; none where the system does not tell.
    pub(super) disk_free_bytes: Option<u64>,
}

impl Metrics {
    fn locked(&self) -> MutexGuard<'_, Counts> {
        // A panic elsewhere leaves counts behind that are off by one, not broken ones.
        self.counts.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A rest was kept, so long after its frame was taken.
    pub fn rest(&self, camera: &CameraName, latency: Duration) {
        let latency_s = latency.as_secs_f64();
        let mut counts = self.locked();
        let counts = counts.cameras.entry(camera.clone()).or_default();
        counts.rests += 1;
        counts.latency_s += latency_s;
        let bucket = LATENCY_BUCKETS_S.iter().position(|bound_s| latency_s <= *bound_s);
        if let Some(count) = bucket.and_then(|bucket| counts.latency.get_mut(bucket)) {
            *count += 1;
        }
    }

    /// Forgets a camera that is gone, so that names which come and go do not pile up.
    pub fn forget(&self, camera: &CameraName) {
        self.locked().cameras.remove(camera);
    }

    /// A delivery was tried.
    pub fn delivery(&self, outcome: Delivery) {
        *self.locked().deliveries.entry(outcome).or_default() += 1;
    }

    /// Counts one who follows the events, for as long as the count is held; none where `most`
    /// follow already.
    pub(super) fn follower(&self, most: usize) -> Option<FollowerCount> {
        let mut counts = self.locked();
        if counts.followers >= most {
            counts.refused_followers += 1;
            return None;
        }
        counts.followers += 1;
        drop(counts);
        Some(FollowerCount(self.clone()))
    }

    /// All counts and gauges as text.
    pub(super) fn text(&self, gauges: &Gauges) -> String {
        let mut page = Page::default();
        let counts = self.locked();
        let name = "stillcloth_rests_total";
        page.family(name, "counter", "Rests kept.");
        for (camera, of_camera) in &counts.cameras {
            page.sample(name, &[("camera", camera.as_str())], of_camera.rests);
        }
        page.latencies(&counts.cameras);
        page.family("stillcloth_deliveries_total", "counter", "Tries to deliver an event.");
        for outcome in Delivery::ALL {
            let count = counts.deliveries.get(&outcome).copied().unwrap_or(0);
            page.sample("stillcloth_deliveries_total", &[("outcome", outcome.name())], count);
        }
        let name = "stillcloth_followers_refused_total";
        page.family(name, "counter", "Followers turned away since too many follow.");
        page.sample(name, &[], counts.refused_followers);
        page.family("stillcloth_followers", "gauge", "Those who follow the events now.");
        page.sample("stillcloth_followers", &[], counts.followers);
        drop(counts);
        page.cameras(&gauges.cameras);
        page.gauges(gauges);
        page.0
    }
}

/// A count of each camera's.
struct CameraFamily {
    name: &'static str,
    help: &'static str,
    value: fn(&CameraStatus) -> u64,
}

const CAMERA_FAMILIES: [CameraFamily; 4] = [
    CameraFamily {
        name: "stillcloth_frames_total",
        help: "Frames that came in.",
        value: |camera| camera.frames,
    },
    CameraFamily {
        name: "stillcloth_frames_dropped_total",
        help: "Frames passed over for newer ones.",
        value: |camera| camera.dropped,
    },
    CameraFamily {
        name: "stillcloth_frames_undecodable_total",
        help: "Frames that could not be decoded.",
        value: |camera| camera.undecodable,
    },
    CameraFamily {
        name: "stillcloth_reconnects_total",
        help: "Times a camera's source was opened again after a loss.",
        value: |camera| camera.reconnects,
    },
];

/// The text as it grows.
#[derive(Default)]
struct Page(String);

impl Page {
    fn family(&mut self, name: &str, kind: &str, help: &str) {
        // Writing to a text cannot fail.
        let _ = writeln!(self.0, "# HELP {name} {help}\n# TYPE {name} {kind}");
    }

    fn sample(&mut self, name: &str, labels: &[(&str, &str)], value: impl std::fmt::Display) {
        self.0.push_str(name);
        for (at, (label, text)) in labels.iter().enumerate() {
            let open = if at == 0 { '{' } else { ',' };
            let text = text.replace('\\', "\\\\").replace('"', "\\\"").replace('\n', "\\n");
            let _ = write!(self.0, "{open}{label}=\"{text}\"");
        }
        let close = if labels.is_empty() { "" } else { "}" };
        let _ = writeln!(self.0, "{close} {value}");
    }

    fn latencies(&mut self, cameras: &BTreeMap<CameraName, CameraCounts>) {
        let name = "stillcloth_rest_latency_seconds";
        self.family(name, "histogram", "From a rest's frame to the rest on disk.");
        let (bucket, sum, count) =
            (format!("{name}_bucket"), format!("{name}_sum"), format!("{name}_count"));
        for (camera, counts) in cameras {
            let camera = ("camera", camera.as_str());
            let mut so_far = 0;
            for (bound_s, more) in LATENCY_BUCKETS_S.iter().zip(counts.latency) {
                so_far += more;
                self.sample(&bucket, &[camera, ("le", &bound_s.to_string())], so_far);
            }
            self.sample(&bucket, &[camera, ("le", "+Inf")], counts.rests);
            self.sample(&sum, &[camera], counts.latency_s);
            self.sample(&count, &[camera], counts.rests);
        }
    }

    fn cameras(&mut self, cameras: &[CameraStatus]) {
        for family in &CAMERA_FAMILIES {
            self.family(family.name, "counter", family.help);
            for camera in cameras {
                let value = (family.value)(camera);
                self.sample(family.name, &[("camera", camera.name.as_str())], value);
            }
        }
        let name = "stillcloth_camera_state";
        self.family(name, "gauge", "1 for what a camera's last frame came to.");
        for camera in cameras {
            self.one_of(name, camera, ("state", serde_json::to_value(camera.state)));
        }
        let name = "stillcloth_camera_health";
        self.family(name, "gauge", "1 for whether a camera's frames can be relied on.");
        for camera in cameras {
            self.one_of(name, camera, ("health", serde_json::to_value(camera.health)));
        }
        let name = "stillcloth_last_frame_age_seconds";
        self.family(name, "gauge", "Since a camera's last frame.");
        for camera in cameras {
            if let Some(age_ms) = camera.last_frame_age_ms {
                let age_s = Duration::from_millis(age_ms).as_secs_f64();
                self.sample(name, &[("camera", camera.name.as_str())], age_s);
            }
        }
    }

    /// A sample that tells by its label which of several a camera is in.
    fn one_of(
        &mut self,
        name: &str,
        camera: &CameraStatus,
        (label, value): (&str, serde_json::Result<serde_json::Value>),
    ) {
        let value = value.unwrap_or_default();
        let value = value.as_str().unwrap_or_default();
        self.sample(name, &[("camera", camera.name.as_str()), (label, value)], 1);
    }

    fn gauges(&mut self, gauges: &Gauges) {
        if let Some(waiting) = gauges.waiting_deliveries {
            let name = "stillcloth_deliveries_waiting";
            self.family(name, "gauge", "Deliveries that wait for a try.");
            self.sample(name, &[], waiting);
        }
        self.family("stillcloth_newest_event", "gauge", "The newest event's id.");
        self.sample("stillcloth_newest_event", &[], gauges.newest_event);
        if let Some(bytes) = gauges.disk_free_bytes {
            let name = "stillcloth_disk_free_bytes";
            self.family(name, "gauge", "Room left on the record's disk.");
            self.sample(name, &[], bytes);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str, sample: &str) -> f64 {
        let line = text.lines().find_map(|line| line.strip_prefix(sample)?.strip_prefix(' '));
        line.unwrap_or_else(|| panic!("no {sample} in\n{text}")).parse().unwrap()
    }

    #[test]
    fn what_is_counted_stands_in_the_text() {
        let metrics = Metrics::default();
        let camera = CameraName::default();
        for latency_ms in [40, 300, 700, 9000] {
            metrics.rest(&camera, Duration::from_millis(latency_ms));
        }
        metrics.delivery(Delivery::GivenUp);
        let text = metrics.text(&Gauges { disk_free_bytes: Some(9), ..Gauges::default() });
        assert_eq!(value(&text, "stillcloth_rests_total{camera=\"camera\"}"), 4.0);
        let latency = |le: &str| {
            let name = "stillcloth_rest_latency_seconds_bucket";
            value(&text, &format!("{name}{{camera=\"camera\",le=\"{le}\"}}"))
        };
        let buckets = ["0.05", "0.2", "0.3", "0.75", "5", "+Inf"].map(latency);
        assert_eq!(buckets, [1.0, 1.0, 2.0, 3.0, 3.0, 4.0], "each counts all that took less");
        let sum = value(&text, "stillcloth_rest_latency_seconds_sum{camera=\"camera\"}");
        assert!((sum - 10.04).abs() < 1e-9);
        assert_eq!(value(&text, "stillcloth_deliveries_total{outcome=\"given_up\"}"), 1.0);
        assert_eq!(value(&text, "stillcloth_deliveries_total{outcome=\"delivered\"}"), 0.0);
        assert_eq!(value(&text, "stillcloth_disk_free_bytes"), 9.0);
        metrics.forget(&camera);
        assert!(!metrics.text(&Gauges::default()).contains("camera=\""));
    }

    #[test]
    fn followers_are_counted_while_they_follow() {
        let metrics = Metrics::default();
        let one = metrics.follower(2).unwrap();
        let two = metrics.follower(2).unwrap();
        assert!(metrics.follower(2).is_none());
        drop(one);
        let three = metrics.follower(2).unwrap();
        assert!(metrics.follower(2).is_none());
        let text = metrics.text(&Gauges::default());
        assert_eq!(value(&text, "stillcloth_followers"), 2.0);
        assert_eq!(value(&text, "stillcloth_followers_refused_total"), 2.0);
        drop((two, three));
        assert_eq!(value(&metrics.text(&Gauges::default()), "stillcloth_followers"), 0.0);
    }

    #[test]
    fn a_label_cannot_break_out_of_its_quotes() {
        let mut page = Page::default();
        page.sample("x", &[("a", "q\"u\\o\nte")], 1);
        assert_eq!(page.0, "x{a=\"q\\\"u\\\\o\\nte\"} 1\n");
    }
}
