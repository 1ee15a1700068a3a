use dryturn_cube::*; use dryturn_driving::*; use dryturn_handoff::*; use dryturn_scene::Scene; use dryturn_units::noise::Seed; use serde_json::json;
fn main(){
    let text=std::fs::read_to_string("scenes/foyer_morning.ron").unwrap();
    let mut base=Scene::parse(&text,"x").unwrap();
    let mut n=1000u64; let kind="R U2 F' D L B2 U D' R2 F L' B U2 R D F2 L' U B' R F' D2".to_string();
    for a in std::env::args().skip(1){ if let Some(k)=a.strip_prefix("n="){n=k.parse().unwrap();continue;} let (k,v)=a.split_once('=').unwrap(); let v:serde_json::Value=serde_json::from_str(v).unwrap_or(json!(v)); base=base.with(k,v).unwrap(); }
    let plan=Plan::of_turns(&notation::parse(&kind).unwrap());
    let m=Machine::of(&base); let m2=m.clone().with_steps_per_tick(10); let m3=m.clone().without_parking();
    let (mut j,mut j2,mut f,mut f3)=(0,0,0,0); let (mut t,mut t2)=(0.0,0.0);
    for i in 0..n { 
        let r=|m:&Machine| m.run(&CubeState::SOLVED,&plan,(Seed::new(1),i),Detail::Figures);
        let (a,b,c)=(r(&m),r(&m2),r(&m3));
        let k=|r:&Run| match &r.end { End::Completed=>0, End::Jammed(_)=>1, End::Stopped(_)=>2};
        j+=(k(&a)==1) as u32; j2+=(k(&b)==1) as u32; f+=(k(&a)!=k(&b)) as u32; f3+=(k(&a)!=k(&c)) as u32;
        if k(&a)==0&&k(&b)==0 {t+=a.total_s;t2+=b.total_s;}
    }
    println!("jams {j} {j2} flips {f} parking flips {f3} time {:.5}",t2/t-1.0);
}
