use stillcloth::*;
fn main(){
  let mut args=std::env::args().skip(1).peekable();
  let sized=args.next().unwrap()=="sized";
  for f in args {
    let img=image::open(&f).unwrap().to_rgb8();
    let truth:serde_json::Value=serde_json::from_str(&std::fs::read_to_string(f.replace(".jpg",".json")).unwrap()).unwrap();
    let t=&truth["table"];
    let table=table::TableSize::new(t["length_mm"].as_f64().unwrap(),t["width_mm"].as_f64().unwrap(),57.15).unwrap();
    let t0=std::time::Instant::now();
    let r=vision::calibrate(&[img],&vision::CalibrateOptions{table: sized.then_some(table),..Default::default()});
    let dt=t0.elapsed().as_millis();
    let name=f.rsplit('/').next().unwrap();
    match r {
      Ok(c)=>{
        let tc:Vec<[f64;2]>=serde_json::from_value(truth["nose_corners_px"].clone()).unwrap();
        let mut best=f64::MAX;
        for turn in [0,2]{ let s:f64=(0..4).map(|i|{let p=c.nose_corners_px[(i+turn)%4];(p.x_px-tc[i][0]).powi(2)+(p.y_px-tc[i][1]).powi(2)}).sum(); best=best.min((s/4.0).sqrt()); }
        println!("{name} {dt}ms corners {best:.2}px rms {:.3} f {:.0}/{:.0} h {:.0}/{:.0} k1 {:.3}/{:.3} table {}",c.report.reprojection_px,c.report.focal_px,truth["camera"]["f_px"].as_f64().unwrap(),c.report.height_mm,truth["camera"]["position_mm"][2].as_f64().unwrap(),c.camera.lens.k1,truth["camera"]["k1"].as_f64().unwrap(),c.table.name());
      }
      Err(e)=>println!("{name} {dt}ms ERR {e}")
    }
  }
}
