//! What holds of every page, asked of the browser that shows it.

use crate::browser::{Browser, Light, Screen, checker};
use serde_json::{Value, json};

/// What moved of itself since the page was begun, as a browser reckons layout shift.
pub const SHIFTED: &str = "return new Promise((done) => {
    const moved = [];
    let sum = 0;
    const tell = ({ node, previousRect: was, currentRect: is }) =>
        `${node?.id || node?.className || node?.nodeName} from ${was.x},${was.y} to ${is.x},${is.y}`;
    new PerformanceObserver((list) => {
        for (const entry of list.getEntries())
            if (!entry.hadRecentInput) {
                sum += entry.value;
                moved.push(...entry.sources.map(tell));
            }
    }).observe({ type: 'layout-shift', buffered: true });
    setTimeout(() => done([sum, moved]), 60);
})";

/// A time that becomes the reader's own is a few letters shorter, and what follows it on its line
/// moves by them; a line that moves is more than this, and 0.1 is called good.
const MOST_SHIFTED: f64 = 0.005;

/// Addresses that were loaded from elsewhere than the service.
const FROM_OUTSIDE: &str = "return performance.getEntriesByType('resource')
    .map((entry) => entry.name)
    .filter((name) => !name.startsWith(location.origin + '/') && !name.startsWith('blob:'))";

/// How much wider the page is than its window, in pixels.
const TOO_WIDE: &str =
    "return document.documentElement.scrollWidth - document.documentElement.clientWidth";

/// What of a page reaches out of its window.
const REACHING_OUT: &str = "
    const right = document.documentElement.clientWidth;
    return [...document.querySelectorAll('body *')]
        .filter((one) => one.getBoundingClientRect().right > right + 0.5)
        .map((one) => `${one.tagName} ${one.className} ${one.textContent.slice(0, 40)}`)";

/// Pictures that took another shape than the page had left room for.
const OUT_OF_SHAPE: &str = "
    const pictures = [...document.querySelectorAll('img[src][width][height]')];
    return Promise.all(pictures.map((picture) => new Promise((done) => {
        picture.loading = 'eager';
        picture.onload = picture.onerror = () => done(picture);
        if (picture.complete) done(picture);
    }))).then((all) => all.filter((picture) => {
        if (picture.naturalWidth === 0) return false;
        const room = picture.getAttribute('width') / picture.getAttribute('height');
        return Math.abs(picture.naturalWidth / picture.naturalHeight / room - 1) > 0.003;
    }).map((picture) => `${picture.src}: ${picture.naturalWidth} × ${picture.naturalHeight}`))";

/// Runs the checker, whose script comes as the first argument's place; tells what it found wrong.
pub fn faults(browser: &Browser, rules: &Value) -> Vec<String> {
    let script = format!(
        "{}; return axe.run(document, arguments[0]).then((told) => told.violations.flatMap((rule) =>
            rule.nodes.map((node) => `${{rule.id}}: ${{node.html}} (${{node.failureSummary}})`)))",
        checker()
    );
    let told = browser.run_with(&script, &json!([rules]));
    told.as_array().expect("a list").iter().map(ToString::to_string).collect()
}

/// A page stands still, fits, loads nothing from outside, and the browser has no complaint.
pub fn holds(browser: &Browser, page: &str) {
    let shifted = browser.run(SHIFTED);
    assert!(shifted[0].as_f64().unwrap() < MOST_SHIFTED, "{page} moves of itself: {shifted}");
    assert_eq!(browser.run(FROM_OUTSIDE), json!([]), "{page}");
    assert_eq!(browser.run(OUT_OF_SHAPE), json!([]), "{page}");
    let too_wide = browser.run(TOO_WIDE).as_f64().unwrap();
    assert!(
        too_wide <= 0.0,
        "{page} is {too_wide} pixels wider than its window: {}",
        browser.run(REACHING_OUT)
    );
    assert_eq!(browser.complaints(), Vec::<String>::new(), "{page}");
}

/// A browser on a screen by day.
pub fn on(screen: Screen) -> Browser {
    let browser = Browser::open();
    browser.look_on(screen, Light::Day);
    browser
}
