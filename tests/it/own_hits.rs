//! A shot of one's own: asked of the service, and tried on its page.

use crate::{
    advising::{ball, layout},
    browser::{Screen, keys},
    client::{Answer, post},
    page_checks::{faults, holds, on},
    staging::{Folder, Service},
};
use serde_json::{Value, json};

/// A ball in line with the lower foot corner, and one out of the way.
fn straight() -> Value {
    layout(&[ball(0, 5.0, 3.0), ball(6, 7.0, 1.0), ball(3, 2.0, 2.0)])
}

fn try_hit(service: &Service, query: &str, layout: &Value, hit: &Value) -> Answer {
    let body = json!({"layout": layout, "hit": hit}).to_string();
    let path = format!("/api/hits{query}");
    post(service.address, &path, "application/json", body.as_bytes())
}

#[test]
fn a_hit_is_played_with_what_comes_of_it() {
    let folder = Folder::new("own-hit");
    let service = Service::plain(&folder.0);
    let stun = json!({"aim_deg": -45.0, "speed_m_s": 2.0, "height": -0.5});
    let answer = try_hit(&service, "", &straight(), &stun);
    assert_eq!(answer.status, 200, "{}", answer.text());
    let tried = answer.json();
    let said = tried["said"].as_array().unwrap();
    assert_eq!(said[0], "Ball 6 drops into the foot corner y = 0.");
    assert!(said[1].as_str().unwrap().starts_with("The cue ball comes to rest at "), "{said:?}");
    // The cue ball and the ball that it meets move; the third is let be.
    let ways = tried["ways"].as_array().unwrap();
    assert_eq!(ways.len(), 2);
    assert_eq!((&ways[0]["ball"], &ways[0]["drops"]), (&json!(0), &json!(false)));
    assert_eq!((&ways[1]["ball"], &ways[1]["drops"]), (&json!(1), &json!(true)));
    assert_eq!(ways[1]["points"][0], json!([7.0, 1.0]));
    // Met a ball's diameter before it, on the line.
    let diameter = 57.15 / 317.5;
    let met = tried["meeting"].as_array().unwrap();
    assert!((met[0].as_f64().unwrap() - (7.0 - diameter / 2_f64.sqrt())).abs() < 0.002, "{met:?}");
    assert_eq!(tried["layout"]["balls"].as_array().unwrap().len(), 2);

    // Who errs more makes it less often; a miss is meant by nobody and has no share.
    let share = |player: &str| {
        try_hit(&service, player, &straight(), &stun).json()["made"].as_f64().unwrap()
    };
    let (beginner, expert) = (share("?player=beginner"), share("?player=expert"));
    assert!(beginner < expert && expert > 0.7, "{beginner} {expert}");
    let past =
        try_hit(&service, "", &straight(), &json!({"aim_deg": 90.0, "speed_m_s": 1.0})).json();
    assert_eq!((&past["made"], &past["said"][0]), (&Value::Null, &json!("No object ball drops.")));
    let lies = past["lies"].as_array().unwrap().len();
    assert!(lies > 90, "{lies} of 100 come to rest");
}

#[test]
fn what_cannot_be_hit_is_refused_in_words() {
    let folder = Folder::new("own-hit-refused");
    let service = Service::plain(&folder.0);
    let plain = json!({"aim_deg": 0.0, "speed_m_s": 2.0});
    let refused = |layout: &Value, hit: &Value, kind: &str, word: &str| {
        let answer = try_hit(&service, "", layout, hit);
        answer.is_problem(422, kind);
        assert!(answer.text().contains(word), "{word}: {}", answer.text());
    };
    let no_cue = layout(&[ball(3, 2.0, 2.0)]);
    refused(&no_cue, &plain, "no_advice", "no cue ball");
    refused(&json!({"table": 1}), &plain, "no_layout", "no layout");
    let fast = json!({"aim_deg": 0.0, "speed_m_s": 200.0});
    refused(&straight(), &fast, "no_hit", "speed in m/s of 200 cannot be");
    let off = json!({"aim_deg": 0.0, "speed_m_s": 2.0, "height": 0.9, "side": -0.9});
    refused(&straight(), &off, "no_hit", "a miscue");
    let unknown = json!({"aim_deg": 0.0, "speed_m_s": 2.0, "english": 1.0});
    assert_eq!(try_hit(&service, "", &straight(), &unknown).status, 422);
    try_hit(&service, "?player=master", &straight(), &plain).is_problem(400, "query");
}

const STRAIGHT: &str = "/try#table=2540x1270x57.15&balls=cue:5,3;6:7,1;3:2,2";

#[test]
fn a_shot_is_aimed_struck_and_gone_on_from() {
    let folder = Folder::new("own-hit-page");
    let service = Service::plain(&folder.0);
    for (screen, by) in [(Screen::Phone, "touch"), (Screen::Wide, "mouse")] {
        let browser = on(screen);
        // It aims at the nearest ball, which here is in line with the corner.
        browser.visit(service.address, STRAIGHT);
        browser.until_told("#said", "Ball 6 drops into the foot corner y = 0.");
        let aim = || browser.run("return Number(document.querySelector('.stick').ariaValueNow)");
        assert_eq!(aim(), 315.0);
        // A drag turns the cue to where the pointer is.
        let from = browser.middle("#balls .ball:nth-child(1)");
        let third = browser.middle("#balls .ball:nth-child(3)");
        let upright = screen == Screen::Phone;
        let to = if upright { [from[0] - 60.0, from[1]] } else { [from[0], from[1] - 60.0] };
        browser.drag([from[0] + 8.0, from[1] + 30.0], to, by);
        browser.until_told("#said", "No object ball drops.");
        let turned = aim().as_f64().unwrap();
        assert!((turned - 90.0).abs() < 2.0, "{turned}");
        // A tap on a ball aims at it.
        browser.drag(third, third, by);
        let at_three = 180.0 + (1.0_f64 / 3.0).atan().to_degrees();
        let turned = aim().as_f64().unwrap();
        assert!((turned - at_three).abs() < 0.1, "{turned} for {at_three}");
        // The same by keys alone: back to the ball at the corner, and a draw shot.
        browser.run("document.querySelector('#balls .ball:nth-child(2)').focus()");
        browser.press(&[keys::ENTER]);
        browser.until_told("#said", "Ball 6 drops");
        browser.run("document.querySelector('.stick').focus()");
        browser.press(&[keys::SHIFT, keys::RIGHT]);
        browser.until_told("#said", "No object ball drops.");
        assert_eq!(aim(), 310.0);
        browser.run("document.querySelector('#balls .ball:nth-child(2)').focus()");
        browser.press(&[keys::ENTER]);
        browser.until_told("#said", "Ball 6 drops");
        browser.run("document.querySelector('#speed').focus()");
        browser.press(&[keys::RIGHT]);
        browser.until_told("[data-of='speed']", "2.1 m/s");
        // The whole shot is in the link.
        browser.click("#link");
        browser.until_told("#status", "ink");
        let link = browser.run("return location.href").as_str().unwrap().to_string();
        assert!(link.contains("&aim=315.000&speed=2.1&height=0"), "{link}");
        holds(&browser, "a shot tried");
        let found = faults(&browser, &json!({}));
        assert!(found.is_empty(), "{}", found.join("\n"));
        browser.visit(service.address, "/");
        browser.visit(service.address, &format!("/try{}", link.split_once("/try").unwrap().1));
        browser.until_told("#said", "Ball 6 drops");
        browser.until_told("[data-of='speed']", "2.1 m/s");
        // A stopped cue ball stays on the table: on from where the balls came to rest, and back.
        browser.visit(service.address, "/");
        browser.visit(service.address, &format!("{STRAIGHT}&aim=315&speed=2&height=-0.5"));
        browser.until_told("#said", "The cue ball comes to rest");
        let balls = || browser.run("return document.querySelectorAll('#balls .ball').length");
        browser.run("document.querySelector('#on').click()");
        browser.until("a ball is gone", "document.querySelectorAll('#balls .ball').length === 2");
        browser.run("document.querySelector('#back').click()");
        browser.until("it is back", "document.querySelectorAll('#balls .ball').length === 3");
        assert_eq!(balls(), 3);
    }
}

#[test]
fn without_a_cue_ball_or_a_layout_the_page_says_where_to_get_one() {
    let folder = Folder::new("own-hit-none");
    let service = Service::plain(&folder.0);
    let browser = on(Screen::Phone);
    browser.visit(service.address, "/try");
    browser.until_told("#status", "draw one, or come from a rest");
    browser.visit(service.address, "/");
    browser.visit(service.address, "/try#table=2540x1270x57.15&balls=6:7,1");
    browser.until_told("#status", "There is no cue ball on the table");
    browser.visit(service.address, "/");
    browser.visit(service.address, "/try#balls=nonsense");
    browser.until_told("#status", "not one of a drawing");
    assert_eq!(browser.complaints(), Vec::<String>::new());
}
