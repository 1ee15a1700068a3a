use dryturn_cube::*; use dryturn_driving::*; use dryturn_handoff::*; use dryturn_scene::Scene; use dryturn_units::noise::Seed; use serde_json::json;
fn main(){
    let text=std::fs::read_to_string("scenes/foyer_morning.ron").unwrap();
    let mut base=Scene::parse(&text,"x").unwrap();
    let mut n=300u64; let mut kind="R U2 F' D L B2 U D' R2 F L' B U2 R D F2 L' U B' R F' D2".to_string();
    for a in std::env::args().skip(1){ if let Some(k)=a.strip_prefix("plan="){kind=k.into();continue;} if let Some(k)=a.strip_prefix("n="){n=k.parse().unwrap();continue;} let (k,v)=a.split_once('=').unwrap(); let v:serde_json::Value=serde_json::from_str(v).unwrap_or(json!(v)); base=base.with(k,v).unwrap(); }
    let plan=Plan::of_turns(&notation::parse(&kind).unwrap());
    let mut m=Machine::of(&base); if let Ok(s)=std::env::var("STEPS"){m=m.with_steps_per_tick(s.parse().unwrap());} if std::env::var("NOPARK").is_ok(){m=m.without_parking();}
    let mut jams=0; let mut tot=vec![]; let mut worst=0f64; let mut pushed=0; let mut e=0.0f64; let mut kinds=std::collections::BTreeMap::new();
    let t0=std::time::Instant::now();
    for i in 0..n { let r=m.run(&CubeState::SOLVED,&plan,(Seed::new(1),i),Detail::Figures);
        pushed+=r.pushed.len();
        e=e.max((r.energy.unaccounted_j()/r.energy.supply_j).abs());
        match &r.end { End::Completed=>tot.push(r.total_s), End::Jammed(j)=>{jams+=1; *kinds.entry(format!("{:?}",j.verdict)).or_insert(0)+=1;}, End::Stopped(s)=>{*kinds.entry(format!("{:?}",s.cause)).or_insert(0)+=1;} }
        for b in &r.beats{worst=worst.max(b.worst_offset_deg);} }
    let dt=t0.elapsed().as_secs_f64()/n as f64;
    println!("jams {jams}/{n} {kinds:?} pushed {pushed} mean {:.1} ms worst off {worst:.2} {:.2} ms/run energy {e:.2e}",tot.iter().sum::<f64>()/tot.len() as f64*1e3, dt*1e3);
}
