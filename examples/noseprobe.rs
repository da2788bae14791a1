use stillcloth::*;
fn main(){
  for f in std::env::args().skip(1) {
    let img=image::open(&f).unwrap().to_rgb8();
    let truth:serde_json::Value=serde_json::from_str(&std::fs::read_to_string(f.replace(".jpg",".json")).unwrap()).unwrap();
    let t=&truth["table"];
    let table=table::TableSize::new(t["length_mm"].as_f64().unwrap(),t["width_mm"].as_f64().unwrap(),57.15).unwrap();
    let c=&truth["camera"]; let v=|k:&str|->[f64;3]{serde_json::from_value(c[k].clone()).unwrap()};
    let p=v("position_mm");
    let mut lens=camera::Lens::pinhole(img.width(),img.height(),c["f_px"].as_f64().unwrap()); lens.k1=c["k1"].as_f64().unwrap();
    let cam=camera::Camera{lens,pose:camera::Pose::looking(table::SpacePoint{x_mm:p[0],y_mm:p[1],z_mm:p[2]},v("forward"),v("up"))};
    println!("{}",f.rsplit('/').next().unwrap());
    vision::debug_noses(&img,&cam,&table);
  }
}
