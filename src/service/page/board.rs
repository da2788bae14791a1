//! What the watching page shows of one table, in parts that the script puts in place of the old
//! ones whenever something has happened.

use super::{
    messages::{say, weave},
    sketch::{bed_once, sketch},
    words,
};
use crate::{
    layout::{Layout, diagram},
    record::Rest,
    score::{Attempt, placing, potted},
    service::{
        App, CameraState, CameraStatus, Health, Problem,
        api::score::{ScoreView, score_of},
    },
    table::{FootEnd, TablePoint},
};
use jiff::Timestamp;
use maud::{Markup, html};

/// Rests shown below the latest one.
const RECENT: u32 = 8;

/// Balls pocketed until a rack is due.
const BALLS_TO_A_RACK: u32 = 14;

/// One table as it stands.
pub(super) struct Board {
    pub(super) camera: String,
    status: Option<CameraStatus>,
    /// Newest first.
    rests: Vec<Rest>,
    score: ScoreView,
    /// What a rack that is due asks for, in words.
    due: Option<String>,
    /// Balls left in the rack.
    left: Option<u32>,
}

impl Board {
    /// The table under a camera; none where it has seen no rest.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub(super) async fn of(app: &App, camera: Option<String>) -> Result<Option<Self>, Problem> {
        let Some(newest) = app.record.newest(camera, 1).await?.pop() else { return Ok(None) };
        let camera = newest.camera;
        let rests = app.record.newest(Some(camera.clone()), RECENT + 1).await?;
        let score = score_of(app, camera.clone()).await?;
        let due = match &score.going_on {
            Some(attempt) => rack_due(app, attempt).await?,
            None => None,
        };
        let left = match (&score.going_on, rests.first()) {
            (Some(attempt), Some(rest)) => Some(balls_left(attempt, &rest.layout)),
            _ => None,
        };
        let board = app.cameras.board().all();
        let status = board.into_iter().find(|status| status.name.as_str() == camera);
        Ok(Some(Self { camera, status, rests, score, due, left }))
    }

    /// Whether what is drawn is how the table lies now: the camera sees it.
    fn is_seen(&self) -> bool {
        is_seen(self.status.as_ref())
    }

    /// All parts; each is known by its id.
    pub(super) fn parts(&self) -> Markup {
        html! {
            section.seeing #seeing aria-label=(say!("camera")) {
                (seeing(&self.camera, self.status.as_ref()))
            }
            section.ask #ask aria-label=(say!("board-for-you")) { (self.ask()) }
            section.score #score aria-label=(say!("board-score")) { (self.run()) }
            section.lying #lying aria-label=(say!("the-table")) { (self.lying()) }
            section.recent #recent aria-labelledby="recent-title" { (self.recent()) }
        }
    }

    fn run(&self) -> Markup {
        let score = &self.score;
        let Some(attempt) = score.going_on.as_ref().or(score.last_over.as_ref()) else {
            return html! {
                p.run data-digits="1" { span.label { (say!("run")) } " " span.figure { "–" } }
                p.facts { (say!("no-attempt-yet")) }
            };
        };
        let digits = attempt.run.to_string().len();
        let over = attempt.over.is_some();
        html! {
            p.run data-digits=(digits) data-over=(over) {
                span.label { @if over { (say!("board-last-run")) } @else { (say!("run")) } }
                " "
                span.figure #run data-run=(attempt.run) data-attempt=(attempt.id) { (attempt.run) }
            }
            @if let Some(ended) = attempt.over {
                p.over { (weave(&say!("board-ended", cause = words::cause(ended.cause)), &[])) }
            }
            dl.facts {
                @if let (Some(rack), false) = (attempt.racks.last(), over) {
                    div { dt { (say!("board-rack")) } dd { (rack.number) } }
                }
                @if let Some(left) = self.left {
                    div { dt { (say!("board-left")) } dd { (left) } }
                }
                @if let Some(high) = score.high_run {
                    div {
                        dt { (say!("board-high-run")) }
                        dd {
                            (high)
                            @if high == attempt.run && high > 0 {
                                small { " " (say!("board-this-one")) }
                            }
                        }
                    }
                }
                div {
                    dt { (say!("attempt")) }
                    dd { a href=(super::attempt::address(&self.camera, attempt.id)) { (attempt.id) } }
                }
            }
            @if !attempt.start_seen {
                p.unsure { (say!("start-not-seen")) }
            }
        }
    }

    fn ask(&self) -> Markup {
        html! {
            @if self.score.practising {
                div.practising {
                    p { (weave(&say!("board-practice"), &[])) }
                    button type="button" data-practise="false" { (say!("end-the-practice")) }
                }
            }
            @if let Some(due) = &self.due { p.due { (due) } }
            @if let Some(question) = self.score.questions.last() {
                div.question data-rest=(question.rest) {
                    h2 { (question.text) }
                    div.answers {
                        @for (number, answer) in (1..).zip(&question.answers) {
                            @let step = serde_json::to_string(&answer.step).unwrap_or_default();
                            button type="button" data-rest=(question.rest) data-step=(step)
                                data-words=(answer.text) {
                                kbd { (number) } " " (answer.text)
                            }
                        }
                    }
                    p.quiet {
                        @let rest = html! { a href=(super::rest::address(question.rest)) {} };
                        (weave(&say!("board-meanwhile"), &[("rest", rest)]))
                        @if self.score.open_questions > 1 {
                            @let more = say!("board-more-open", more = self.score.open_questions - 1);
                            @let attempts = super::attempts::address(&self.camera);
                            " · "
                            (weave(&more, &[("attempts", html! { a href=(attempts) {} })]))
                        }
                    }
                }
            }
        }
    }

    fn lying(&self) -> Markup {
        let Some(rest) = self.rests.first() else { return html! {} };
        let age_s = Timestamp::now().as_second().saturating_sub(rest.at.as_second());
        let age_s = age_s.max(0).unsigned_abs();
        let [width, height] = diagram::size(&rest.layout.table, 0);
        let at_rest = say!(
            "board-at-rest",
            clock = words::clock(rest.at),
            age = words::age(age_s),
            layout = words::in_words(&rest.layout)
        );
        let clock = html! { time.clock datetime=(rest.at) {} };
        let age = html! { time.age datetime=(rest.at) {} };
        let at_rest = weave(&at_rest, &[("clock", clock), ("age", age)]);
        html! {
            figure data-seen=(self.is_seen()) data-rest=(rest.id) {
                @if !self.is_seen() {
                    p.stale role="status" { strong { (say!("board-not-live")) } " " (self.not_live()) }
                }
                a href=(super::rest::address(rest.id)) {
                    img src=(super::rest::drawing(rest.id)) alt=(words::in_words(&rest.layout))
                        width=(width) height=(height);
                }
                figcaption { (at_rest) }
            }
        }
    }

    /// Why what is drawn may not be how the table lies now.
    fn not_live(&self) -> String {
        match &self.status {
            None => say!("board-nothing-sent"),
            Some(status) if status.health == Health::Live => {
                say!("board-no-frame", duration = words::duration(status.stale_after_s))
            }
            Some(CameraStatus { health, words, .. }) => {
                say!("board-not-well", health = words::health(*health), words = words)
            }
        }
    }

    fn recent(&self) -> Markup {
        html! {
            h2 #recent-title { (say!("board-before")) }
            (bed_once())
            ol.strip {
                @for rest in self.rests.iter().skip(1) {
                    li {
                        a href=(super::rest::address(rest.id)) {
                            (sketch(&rest.layout))
                            time.clock datetime=(rest.at) { (words::clock(rest.at)) }
                        }
                    }
                }
            }
        }
    }
}

/// Whether a camera sees its table now.
pub(super) fn is_seen(status: Option<&CameraStatus>) -> bool {
    status.is_some_and(|status| {
        let age_ms = status.last_frame_age_ms.unwrap_or(u64::MAX);
        status.health == Health::Live && age_ms <= 1000 * status.stale_after_s
    })
}

/// How a camera is doing, in a line.
pub(super) fn seeing(camera: &str, status: Option<&CameraStatus>) -> Markup {
    html! {
        @match status {
            Some(status) => p #camera-state data-state=(state(status)) {
                strong { (status.name) ": " (words::health(status.health)) } ". "
                (status.words) " "
                span.quiet #last-frame data-age-ms=[status.last_frame_age_ms] {
                    (words::last_frame(status))
                }
            },
            None => p #camera-state data-state="waiting" {
                (weave(&say!("board-camera-silent", camera = camera), &[]))
            },
        }
    }
}

/// What kind of mark a camera's line has.
const fn state(status: &CameraStatus) -> &'static str {
    match (status.health, status.state) {
        (Health::Ended, _) => "ended",
        (Health::Starting, _) => "waiting",
        (Health::Stale | Health::Lost, _) => "failed",
        (Health::Live, CameraState::Reading) => "reading",
        (Health::Live, CameraState::Obstructed) => "obstructed",
        (Health::Live, CameraState::Unreadable | CameraState::Failed) => "failed",
        (Health::Live, CameraState::Waiting | CameraState::Ended) => "waiting",
    }
}

/// Balls still to be pocketed before the next rack.
fn balls_left(attempt: &Attempt, layout: &Layout) -> u32 {
    let rack = attempt.racks.last();
    match rack.filter(|rack| rack.racked_rest.is_some()) {
        Some(rack) => {
            let shots = attempt.shots.iter().filter(|shot| shot.rack == rack.number);
            BALLS_TO_A_RACK.saturating_sub(potted(shots))
        }
        // Where the rack was not seen, what lies on the table tells.
        None => u32::try_from(layout.object_balls().count()).unwrap_or(0).saturating_sub(1),
    }
}

/// What the player has to do where the rack is played out, in words; none where it is not.
async fn rack_due(app: &App, attempt: &Attempt) -> Result<Option<String>, Problem> {
    let (Some(shot), Some(rack)) = (attempt.shots.last(), attempt.racks.last()) else {
        return Ok(None);
    };
    if shot.rack != rack.number {
        return Ok(None);
    }
    let Some(closing) = app.record.by_id(shot.rest).await? else { return Ok(None) };
    if closing.layout.object_balls().count() > 1 {
        return Ok(None);
    }
    let racked = match rack.racked_rest {
        Some(rest) => app.record.by_id(rest).await?,
        None => None,
    };
    let special = special_placing(&closing.layout, racked.as_ref().map(|rest| &rest.layout));
    Ok(Some(special.unwrap_or_else(|| say!("board-rack-due"))))
}

/// Where the last ball and the cue ball go, if not where they lie. A layout that does not know its
/// foot is turned as the rack before it lay; where that is not known either, nothing is said.
fn special_placing(closing: &Layout, racked: Option<&Layout>) -> Option<String> {
    let turned = match closing.foot {
        FootEnd::Given | FootEnd::Seen => false,
        FootEnd::Open => rack_lies_at_head(racked?)?,
    };
    let table = &closing.table;
    let on_table = |at: TablePoint| if turned { at.turned(table) } else { at };
    let last = closing.object_balls().next().map(|ball| on_table(closing.centre_of(ball)));
    let cue = on_table(closing.centre_of(closing.cue_ball()?));
    let asked = placing(last, cue, table);
    asked.applies().then(|| asked.words())
}

fn rack_lies_at_head(racked: &Layout) -> Option<bool> {
    let balls = racked.object_balls().count();
    let sum: f64 = racked.object_balls().map(|ball| ball.x).sum();
    (balls > 0).then(|| sum / (balls as f64) < 4.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        layout::{Ball, BallKind},
        table::{DiamondPoint, Rack, TableSize},
    };

    const TABLE: TableSize = TableSize::NINE_FOOT;

    fn ball(kind: BallKind, at: DiamondPoint) -> Ball {
        let sure = 0.99;
        Ball {
            kind,
            number: None,
            x: at.x,
            y: at.y,
            sigma_mm: 0.5,
            confidence: sure,
            number_confidence: 0.0,
        }
    }

    fn layout(foot: FootEnd, balls: Vec<Ball>) -> Layout {
        Layout::of(TABLE, foot, balls)
    }

    fn in_rack() -> DiamondPoint {
        DiamondPoint::from_table(Rack::on(&TABLE).places()[4], &TABLE)
    }

    fn turned(at: DiamondPoint) -> DiamondPoint {
        DiamondPoint { x: 8.0 - at.x, y: 4.0 - at.y }
    }

    #[test]
    fn a_last_ball_in_the_rack_goes_to_the_head_spot_whichever_way_the_picture_lies() {
        let cue = DiamondPoint { x: 3.0, y: 1.0 };
        let told = "Last ball to the head spot. The cue ball stays.";
        let seen = |turn: fn(DiamondPoint) -> DiamondPoint| {
            vec![ball(BallKind::Cue, turn(cue)), ball(BallKind::Object, turn(in_rack()))]
        };
        let given = layout(FootEnd::Given, seen(|at| at));
        assert_eq!(special_placing(&given, None).as_deref(), Some(told));
        let open = layout(FootEnd::Open, seen(turned));
        let racked = layout(FootEnd::Open, vec![ball(BallKind::Object, turned(in_rack()))]);
        assert_eq!(special_placing(&open, Some(&racked)).as_deref(), Some(told));
        assert_eq!(special_placing(&open, None), None, "nothing tells which way it lies");
    }

    #[test]
    fn nothing_is_said_where_both_balls_stay() {
        let balls = vec![
            ball(BallKind::Cue, DiamondPoint { x: 3.0, y: 1.0 }),
            ball(BallKind::Object, DiamondPoint { x: 5.0, y: 3.0 }),
        ];
        assert_eq!(special_placing(&layout(FootEnd::Given, balls), None), None);
    }
}
