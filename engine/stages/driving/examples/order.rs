use dryturn_cube::*; use dryturn_driving::*; use dryturn_handoff::*; use dryturn_scene::Scene; use dryturn_units::noise::Seed; use serde_json::json;
fn main(){
    let text=std::fs::read_to_string("scenes/foyer_morning.ron").unwrap();
    let mut base=Scene::parse(&text,"x").unwrap().with("drive.encoder_bits",json!(24)).unwrap();
    for a in std::env::args().skip(1){ let (k,v)=a.split_once('=').unwrap(); let v:serde_json::Value=serde_json::from_str(v).unwrap_or(json!(v)); base=base.with(k,v).unwrap(); }
    let plan=Plan::of_turns(&notation::parse("R U2").unwrap());
    let m=Machine::of(&base);
    let runs:Vec<_>=[5,10,20,40,80].iter().map(|&s| m.clone().with_steps_per_tick(s).run(&CubeState::SOLVED,&plan,(Seed::new(1),1),Detail::Trace)).collect();
    for k in (2..90).step_by(4){ let f=|i:usize| runs[i].trace.angles_deg[k][1]; let g=|i:usize| runs[i].trace.speeds_rad_s[k][1];
      println!("{:.1} ms ang {:.3} diffs {:.1e} {:.1e} {:.1e} {:.1e}  speed {:.2} {:.1e} {:.1e} {:.1e} {:.1e}",k as f64*0.5,f(0),f(0)-f(4),f(1)-f(4),f(2)-f(4),f(3)-f(4),g(0),g(0)-g(4),g(1)-g(4),g(2)-g(4),g(3)-g(4)); }
}
