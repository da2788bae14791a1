use stillcloth::*;
fn main() {
    let mut args = std::env::args().skip(1).peekable();
    let mode = args.next().unwrap();
    let sized = mode != "free";
    let verbose = mode == "v" || mode == "tv";
    let (mut all, mut sum, mut missed, mut falses) = (0, 0.0, 0, 0);
    for f in args {
        let img = image::open(&f).unwrap().to_rgb8();
        let truth: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(f.replace(".jpg", ".json")).unwrap())
                .unwrap();
        let t = &truth["table"];
        let table = table::TableSize::new(
            t["length_mm"].as_f64().unwrap(),
            t["width_mm"].as_f64().unwrap(),
            57.15,
        )
        .unwrap();
        let t0 = std::time::Instant::now();
        let r = vision::calibrate(
            std::slice::from_ref(&img),
            &vision::CalibrateOptions { table: sized.then_some(table), ..Default::default() },
        );
        let r = if mode == "t" || mode == "tv" {
            let mut c = r.unwrap();
            let cc = &truth["camera"];
            let v = |k: &str| -> [f64; 3] { serde_json::from_value(cc[k].clone()).unwrap() };
            let p = v("position_mm");
            let mut lens =
                camera::Lens::pinhole(img.width(), img.height(), cc["f_px"].as_f64().unwrap());
            lens.k1 = cc["k1"].as_f64().unwrap();
            c.camera = camera::Camera {
                lens,
                pose: camera::Pose::looking(
                    table::SpacePoint { x_mm: p[0], y_mm: p[1], z_mm: p[2] },
                    v("forward"),
                    v("up"),
                ),
            };
            c.nose_corners_px = table
                .corners()
                .map(|q| c.camera.project(q.at_height(table.nose_height_mm())).unwrap());
            Ok(c)
        } else {
            r
        };
        let dt = t0.elapsed().as_millis();
        let name = f.rsplit('/').next().unwrap().replace(".jpg", "");
        match r {
            Ok(c) => {
                let tc: Vec<[f64; 2]> =
                    serde_json::from_value(truth["nose_corners_px"].clone()).unwrap();
                let mut best = (f64::MAX, 0);
                for turn in [0, 2] {
                    let s: f64 = (0..4)
                        .map(|i| {
                            let p = c.nose_corners_px[(i + turn) % 4];
                            (p.x_px - tc[i][0]).powi(2) + (p.y_px - tc[i][1]).powi(2)
                        })
                        .sum();
                    let e = (s / 4.0).sqrt();
                    if e < best.0 {
                        best = (e, turn);
                    }
                }
                let reader = vision::Reader::new(c.clone()).unwrap();
                let t1 = std::time::Instant::now();
                let rd = reader.read(&img).unwrap();
                let rt = t1.elapsed().as_micros() as f64 / 1000.0;
                // match
                let tb: Vec<(i64, table::TablePoint)> = truth["balls"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|b| {
                        (
                            b["number"].as_i64().unwrap(),
                            table::TablePoint::new(
                                b["x_mm"].as_f64().unwrap(),
                                b["y_mm"].as_f64().unwrap(),
                            ),
                        )
                    })
                    .collect();
                let fb: Vec<table::TablePoint> = rd
                    .layout
                    .balls
                    .iter()
                    .map(|b| {
                        let p = rd.layout.centre_of(b);
                        let p = table::TablePoint::new(
                            p.x_mm * table.length_mm / c.table.length_mm,
                            p.y_mm * table.width_mm / c.table.width_mm,
                        );
                        if best.1 == 2 { p.turned(&table) } else { p }
                    })
                    .collect();
                let mut used = vec![false; fb.len()];
                let mut errs = vec![];
                let mut miss = vec![];
                let mut num_ok = 0;
                let mut num_bad = vec![];
                let mut z2 = 0;
                for (n, p) in &tb {
                    let m = (0..fb.len())
                        .filter(|i| !used[*i])
                        .min_by(|a, b| fb[*a].distance_mm(*p).total_cmp(&fb[*b].distance_mm(*p)));
                    match m {
                        Some(i) if fb[i].distance_mm(*p) < 20.0 => {
                            used[i] = true;
                            let e = fb[i].distance_mm(*p);
                            errs.push((e, *n, fb[i].x_mm - p.x_mm, fb[i].y_mm - p.y_mm));
                            let b = &rd.layout.balls[i];
                            if e < 2.0 * b.sigma_mm {
                                z2 += 1;
                            }
                            if b.number.map(i64::from) == Some(*n) {
                                num_ok += 1
                            } else {
                                num_bad.push((*n, b.number))
                            }
                        }
                        _ => miss.push((*n, p.x_mm as i64, p.y_mm as i64)),
                    }
                }
                let fp: Vec<_> = (0..fb.len())
                    .filter(|i| !used[*i])
                    .map(|i| (fb[i].x_mm as i64, fb[i].y_mm as i64))
                    .collect();
                let rms =
                    (errs.iter().map(|e| e.0 * e.0).sum::<f64>() / errs.len().max(1) as f64).sqrt();
                let worst = errs.iter().map(|e| e.0).fold(0.0, f64::max);
                all += errs.len();
                sum += errs.iter().map(|e| e.0 * e.0).sum::<f64>();
                missed += miss.len();
                falses += fp.len();
                println!(
                    "{name} cal {dt}ms corners {best:.2?} rms {:.2} f {:.0}/{:.0} {} | read {rt:.1}ms found {}/{} miss {miss:?} false {fp:?} rms {rms:.2} worst {worst:.2} in2s {z2} num {num_ok} bad {num_bad:?}",
                    c.report.reprojection_px,
                    c.report.focal_px,
                    truth["camera"]["f_px"].as_f64().unwrap(),
                    c.table.name(),
                    errs.len(),
                    tb.len(),
                    best = best.0
                );
                if verbose {
                    for e in &errs {
                        println!("    #{} err {:.2} dx {:.2} dy {:.2}", e.1, e.0, e.2, e.3);
                    }
                }
            }
            Err(e) => println!("{name} {dt}ms ERR {e}"),
        }
    }
    println!(
        "total {all} missed {missed} false {falses} rms {:.3}",
        (sum / all.max(1) as f64).sqrt()
    );
}
