use dryturn_cube::*; use dryturn_driving::*; use dryturn_handoff::*; use dryturn_scene::Scene; use dryturn_units::noise::Seed; use serde_json::json;
fn main(){
    let text=std::fs::read_to_string("scenes/foyer_morning.ron").unwrap();
    let mut s=Scene::parse(&text,"x").unwrap();
    let mut kind="R".to_string(); let mut trial=0;
    for a in std::env::args().skip(1){ if let Some(k)=a.strip_prefix("plan="){kind=k.into();continue;} if let Some(k)=a.strip_prefix("trial="){trial=k.parse().unwrap();continue;} let (k,v)=a.split_once('=').unwrap(); let v:serde_json::Value=serde_json::from_str(v).unwrap_or(json!(v)); s=s.with(k,v).unwrap(); }
    let plan=Plan::of_turns(&notation::parse(&kind).unwrap());
    let run=simulate(&s,&CubeState::SOLVED,&plan,Seed::new(1),trial);
    println!("{:.1} {:?} pushed {:?}",run.total_s*1e3,run.failure(),run.pushed);
    let m=Machine::of(&s);
    let f=plan.beats[0].turns[0].face.index();
    for (i,a) in run.trace.angles_deg.iter().enumerate(){ if i%4==0 || i>80 && i<110 { println!("{:.1} ms layer {:.2} speed {:.1} cur {:.2} bus {:.1}",i as f64*run.trace.step_s*1e3,a[f],run.trace.speeds_rad_s[i][f],run.trace.currents_a[i][f],run.trace.bus_v[i]); } }
    if let Ok(w)=std::env::var("W"){ let w:f64=w.parse().unwrap(); for (i,a) in run.trace.angles_deg.iter().enumerate(){ let t=i as f64*run.trace.step_s*1e3; if t>w && t<w+60.0 { println!("T {t:.1} {:?} sp {:?} cur {:?} gaps {:?}",a.map(|x|(x*100.0).round()/100.0),run.trace.speeds_rad_s[i].map(|x|x.round()),run.trace.currents_a[i].map(|x|(x*10.).round()/10.),run.trace.gaps_mm[i].map(|x|(x*100.).round()/100.)); } } }
    let _=m;
}
#[allow(dead_code)] fn x(){}
