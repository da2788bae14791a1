//! A layout set up again by what the page says, and the shots from it counted: on a staged table
//! before a camera that reads its frames.

use crate::{
    browser::{Browser, Light, Screen},
    client::{get, post},
    page_checks::{faults, holds},
    rests::calibration,
    staging::{Folder, Service, Wish},
};
use image::{ImageEncoder, codecs::png::PngEncoder};
use nalgebra::Vector3;
use serde_json::{Value, json};
use std::{collections::BTreeMap, net::SocketAddr, sync::Arc};
use stillcloth::{
    camera::PixelPoint,
    service::TableReader,
    staged::{Exposure, Moment, Painter, Profile, Random, Scene, SeenBall, random_orientation},
    table::{DiamondPoint, TablePoint, TableSize},
    vision::CalibrateOptions,
};

const TABLE: TableSize = TableSize::NINE_FOOT;

/// Where the balls are wanted, in diamonds; 0 is the cue ball.
const WANTED: [(u8, f64, f64); 4] = [(0, 2.0, 1.2), (3, 5.2, 2.6), (9, 6.6, 0.9), (12, 3.1, 3.2)];

/// Balls on a staged table, and the camera over it.
struct Stage {
    painter: Painter,
    random: Random,
    places: BTreeMap<u8, TablePoint>,
}

fn place(x: f64, y: f64) -> TablePoint {
    DiamondPoint { x, y }.on_table(&TABLE)
}

/// An empty nine-foot table, in a picture of half the usual size.
fn empty_table() -> Scene {
    let seeds = (20..).map(|seed| Scene::random(seed, Profile::Near));
    let fits = |scene: &Scene| {
        scene.table == TABLE && scene.camera.lens.width_px == 1920 && !scene.obstructed()
    };
    let mut scene = seeds.into_iter().find(fits).unwrap();
    let lens = &mut scene.camera.lens;
    (lens.width_px, lens.height_px, lens.focal_px) = (960, 540, lens.focal_px * 0.5);
    lens.centre_px = PixelPoint::new(lens.centre_px.x_px * 0.5, lens.centre_px.y_px * 0.5);
    scene.balls.clear();
    scene
}

impl Stage {
    fn new(scene: &Scene) -> Self {
        Self { painter: Painter::new(scene), random: Random::new(5), places: BTreeMap::new() }
    }

    fn set(&mut self, places: &[(u8, f64, f64)]) {
        self.places = places.iter().map(|(number, x, y)| (*number, place(*x, *y))).collect();
    }

    /// The table as the camera sees it now, sent; the id of its rest.
    fn send(&mut self, at: SocketAddr) -> i64 {
        let mut turning = Random::new(7);
        let balls = self.places.iter().map(|(number, place)| SeenBall {
            number: *number,
            centre_mm: Vector3::new(place.x_mm, place.y_mm, TABLE.ball_radius_mm()),
            orientation: random_orientation(&mut turning),
            sweep_mm: Vector3::zeros(),
        });
        let moment = Moment {
            balls: balls.collect(),
            props: Vec::new(),
            light_gains: [1.0; 2],
            exposure: Exposure::PLAIN,
        };
        let picture = self.painter.paint(&moment, &mut self.random);
        let mut bytes = Vec::new();
        PngEncoder::new(&mut bytes)
            .write_image(
                &picture,
                picture.width(),
                picture.height(),
                image::ExtendedColorType::Rgb8,
            )
            .unwrap();
        let answer = post(at, "/api/frames?camera=table", "image/png", &bytes);
        answer.json()["id"].as_i64().unwrap_or_else(|| panic!("{}", answer.text()))
    }
}

/// The link behind # that the drawing page makes for a layout.
fn fragment() -> String {
    let name = |number: u8| if number == 0 { "cue".into() } else { number.to_string() };
    let balls: Vec<String> =
        WANTED.iter().map(|(number, x, y)| format!("{}:{x},{y}", name(*number))).collect();
    format!("table=2540x1270x57.15&balls={}", balls.join(";"))
}

fn wanted() -> Value {
    let balls = WANTED.iter().map(|(number, x, y)| {
        let kind = if *number == 0 { "cue" } else { "object" };
        json!({"kind": kind, "number": number, "x": x, "y": y, "sigma_mm": 0.0,
            "confidence": 1.0, "number_confidence": 1.0})
    });
    json!({"table": {"length_mm": 2540.0, "width_mm": 1270.0, "ball_diameter_mm": 57.15},
        "foot": "given", "obstructed": false, "balls": balls.collect::<Vec<_>>()})
}

fn again(at: SocketAddr, after: i64) -> Value {
    let body = json!({"layout": wanted(), "camera": "table", "after": after}).to_string();
    let answer = post(at, "/api/again", "application/json", body.as_bytes());
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.json()
}

/// Does what the guide asks for, and holds it to the truth on the way.
fn follow(guide: &Value, stage: &mut Stage) {
    for (ball, (number, x, y)) in guide["balls"].as_array().unwrap().iter().zip(WANTED) {
        let Some(along) = ball["along_mm"].as_f64() else {
            assert_eq!(ball["stands"], "missing");
            stage.places.insert(number, place(x, y));
            continue;
        };
        let across = ball["across_mm"].as_f64().unwrap();
        let lies = stage.places.get_mut(&number).unwrap();
        let truth = (place(x, y).x_mm - lies.x_mm, place(x, y).y_mm - lies.y_mm);
        let off_mm = (along - truth.0).hypot(across - truth.1);
        assert!(off_mm < 4.0, "ball {number} is told to go {off_mm} mm amiss");
        // Nobody puts a ball down more exactly than to the millimetre.
        *lies = TablePoint::new(lies.x_mm + along.round(), lies.y_mm + across.round());
    }
}

/// Whether the page tells this count of shots.
fn told(made: usize, shots: usize) -> String {
    format!(
        "document.querySelector('.made')?.dataset.made === '{made}' && \
         document.querySelector('.made').dataset.shots === '{shots}'"
    )
}

#[test]
fn a_layout_is_set_up_again_by_what_the_page_says_and_its_shots_are_counted() {
    let folder = Folder::new("again");
    let scene = empty_table();
    let calibrated = folder.0.join("calibration.json");
    calibration(&scene).save(&calibrated).unwrap();
    let readers: stillcloth::service::ReaderFactory = Arc::new(move |_| {
        let reader = TableReader::keeping_nothing(CalibrateOptions::default());
        Box::new(reader.beginning_with(calibrated.clone()))
    });
    let service = Service::start(&folder.0, Wish::default(), readers);
    let at = service.address;
    let mut stage = Stage::new(&scene);
    // The twelve is missing, the three a little off, the others far.
    stage.set(&[(0, 4.4, 3.3), (3, 5.28, 2.52), (9, 1.2, 2.9)]);
    let begun = stage.send(at);

    let browser = Browser::open();
    browser.look_on(Screen::Phone, Light::Day);
    browser.visit(at, &format!("/again#{}", fragment()));
    browser.until_told("#next", "0 of 4 in place.");
    browser.until_told("#balls", "Ball 12 put it on the table");
    let told_so = browser.text("#balls");
    assert!(told_so.contains("toward the foot") && told_so.contains("to the right"), "{told_so}");
    holds(&browser, "/again");
    let found = faults(&browser, &json!({}));
    assert!(found.is_empty(), "{}", found.join("\n"));

    follow(&again(at, begun), &mut stage);
    stage.places.insert(7, place(3.9, 0.6));
    stage.send(at);
    browser.until_told("#next", "Ball 7: take it off");
    browser.until_told("#next", "4 of 4 in place, 1 ball too many.");
    stage.places.remove(&7);
    stage.send(at);
    browser.until_told("#next", "All in place. Play the shot.");
    assert_eq!(
        browser.run("return document.querySelectorAll('.asks [data-stands=in_place]').length"),
        4
    );
    assert!(again(at, begun)["ready"].as_bool().unwrap());

    // Each shot leads somewhere else; then the layout is set up again.
    let (mut ends, mut set_ups) = (Vec::new(), Vec::new());
    let shots = ["made", "made", "missed", "made", "scratched", "made", "made"];
    for (number, ending) in (0..).zip(shots) {
        let set_up = stage.places.clone();
        let cue = place(4.0 + 0.25 * f64::from(number), 1.0 + 0.2 * f64::from(number % 3));
        stage.places.insert(0, cue);
        match ending {
            "made" => {
                stage.places.remove(&3);
                ends.push(cue);
            }
            "missed" => drop(stage.places.insert(3, place(7.2, 3.1))),
            _ => drop((stage.places.remove(&0), stage.places.insert(3, place(7.2, 3.1)))),
        }
        stage.send(at);
        stage.places = set_up;
        set_ups.push(stage.send(at));
    }
    let practice = again(at, begun);
    let counts = ["made", "missed", "scratched"].map(|ending| practice[ending].as_u64().unwrap());
    assert_eq!(counts, [5, 1, 1], "{practice}");
    let made = practice["shots"].as_array().unwrap().iter().filter(|shot| shot["ending"] == "made");
    for (shot, end) in made.zip(&ends) {
        let seen = place(shot["x"].as_f64().unwrap(), shot["y"].as_f64().unwrap());
        assert!(seen.distance_mm(*end) < 4.0, "{shot}");
    }
    let of_the_last = again(at, set_ups[set_ups.len() - 2]);
    assert_eq!(of_the_last["made"], 1, "begun with the layout set up: {of_the_last}");
    assert!(practice["ellipse"]["half_length_mm"].as_f64().unwrap() > 100.0);
    browser.until("all shots are told", &told(5, 7));
    browser.until_told("#count", "Nine in ten further made shots will end inside the ellipse");

    // One was none after all. That holds after a reload too, and can be taken back.
    browser.click(".shots button");
    browser.until("one shot fewer", &told(4, 6));
    browser.until_told("#count", "Too few for an ellipse: 4 of 5");
    let address = browser.run("return location.pathname + location.search + location.hash");
    browser.visit(at, address.as_str().unwrap());
    browser.until("the same after a reload", &told(4, 6));
    browser.click(".shots button[aria-pressed=true]");
    browser.until("it counts again", &told(5, 7));
    let found = faults(&browser, &json!({}));
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn what_cannot_be_set_up_is_refused_in_words() {
    let folder = Folder::new("no-again");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let send =
        |body: Value| post(at, "/api/again", "application/json", body.to_string().as_bytes());
    send(json!({"layout": wanted()})).is_problem(404, "not_found");
    crate::layouts_out::send(at, "table", 4);
    assert_eq!(send(json!({"layout": wanted()})).status, 200);
    assert_eq!(send(json!({"rest": 1})).json()["balls"][0]["stands"], "in_place");
    send(json!({})).is_problem(422, "no_practice");
    send(json!({"rest": 1, "layout": wanted()})).is_problem(422, "no_practice");
    send(json!({"rest": 9})).is_problem(404, "not_found");
    send(json!({"rest": 1, "camera": "nobody"})).is_problem(404, "not_found");
    send(json!({"rest": 1, "camera": "<b>"})).is_problem(400, "camera_name");
    send(json!({"layout": {"balls": []}})).is_problem(422, "no_layout");
    send(json!({"rest": 1, "left_out": vec![1; 1001]})).is_problem(422, "no_practice");
    post(at, "/again/parts", "application/json", b"{").is_problem(400, "no_json");
    assert_eq!(get(at, "/again?rest=9").status, 404);
    assert_eq!(get(at, "/again?rest=<").status, 400);
}
