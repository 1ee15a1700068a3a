use dryturn_cube::*; use dryturn_driving::*; use dryturn_handoff::*; use dryturn_scene::Scene; use dryturn_units::noise::Seed; use serde_json::json;
fn main(){
    let text=std::fs::read_to_string("scenes/foyer_morning.ron").unwrap();
    let base=Scene::parse(&text,"x").unwrap();
    for preset in ["TorqueFollowsBus","WindingLine","SpeedLimited","HalfTurnReading","ProfileLimited"]{
      for v in [30.0,48.0]{
        let s=base.with("drive.preset",json!(preset)).unwrap().with("drive.bus_voltage_v",json!(v)).unwrap();
        let plan=Plan{beats:vec![Beat{turns:notation::parse("R").unwrap()};8]};
        let t=Timing::of(&s); let c=t.costs();
        let run=simulate(&s,&CubeState::SOLVED,&plan,Seed::new(1),0);
        println!("{preset} {v}: nominal {:.1} run {:.1} {:?} profile {:.1} costs {:?} ratio {:.3} prof ratio {:.3}",t.total_s(&plan)*1e3,run.total_s*1e3,run.failure(),t.turn_s(notation::parse("R").unwrap()[0])*1e3,c,c.map_or(0.0,|c|c.half_s/c.quarter_s), t.turn_s(notation::parse("R2").unwrap()[0])/t.turn_s(notation::parse("R").unwrap()[0]));
      }
    }
    let n=300u64;
    let plan=Plan::of_turns(&notation::parse("R U2 F' D L B2 U D' R2 F L' B U2 R D F2 L' U B' R F' D2").unwrap());
    let m=Machine::of(&base);
    let t0=std::time::Instant::now();
    let mut jams=0; let mut tot=vec![]; let mut worst=0f64; let mut pushed=0; let mut e=0.0f64;
    for i in 0..n { let r=m.run(&CubeState::SOLVED,&plan,(Seed::new(1),i),Detail::Figures);
        pushed+=r.pushed.len();
        e=e.max((r.energy.unaccounted_j()/r.energy.supply_j).abs());
        if r.end!=End::Completed {jams+=1; if jams<6{println!("{i}: {:?}",r.failure());}} else {tot.push(r.total_s);}
        for b in &r.beats{worst=worst.max(b.worst_offset_deg);} }
    let dt=t0.elapsed().as_secs_f64()/n as f64;
    println!("jams {jams}/{n} pushed {pushed} mean {:.1} ms bound {:.1} worst off {worst:.2} {:.2} ms/run energy {e:.2e}",tot.iter().sum::<f64>()/tot.len() as f64*1e3, m.run(&CubeState::SOLVED,&plan,(Seed::new(1),0),Detail::Figures).bound_s*1e3,dt*1e3);
    let r=m.run(&CubeState::SOLVED,&plan,(Seed::new(1),0),Detail::Figures);
    println!("{:?}\n{:?}\n{:?} {:?}",r.energy,r.power,r.axes[0],r.energy.unaccounted_j());
    for b in &r.beats{println!("{} {:.1} {:.1} off {:.2}",b.beat,b.start_s()*1e3,b.stop_s()*1e3,b.worst_offset_deg);}
}
