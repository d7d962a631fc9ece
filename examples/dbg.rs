use scantling::geom::*;
fn main(){
 let q=scantling::io::load(&scantling::io::Paths{jobs:vec!["demo-slabs/weir-mill/job.toml".into()],rack:None,shop:None}).unwrap().question;
 let s=q.rack.iter().find(|s|s.name=="TG-4").unwrap();
 println!("{:?} convex {}", s.outline.points(), s.outline.is_convex());
 let room=sum::shrunk(&s.outline.to_region(),20.0,0.02);
 println!("room {:?}", room.bbox());
 println!("room polys {:?}", room.polygons.iter().map(|p|(p.outer.points().len(),p.outer.is_convex(),p.holes.len())).collect::<Vec<_>>());
 for (_,_,p) in q.pieces(){
  let parts=sum::convex_parts(&p.outline.ring.to_region());
  let turn=std::env::args().nth(1).unwrap().parse::<f64>().unwrap(); let pose=Pose::new(turn,pt(0.,0.)); let parts:Vec<Vec<Point>>=parts.iter().map(|p|p.iter().map(|&q|pose.apply(q)).collect()).collect(); if p.name=="sink run"{ println!("parts {:?} mirrored sums: ",parts); let m:Vec<Point>=parts[0].iter().map(|&q|-q).collect(); for (a,b) in room.edges(){ println!("  edge {:?} {:?} -> {:?}",a,b,sum::convex_sum(&[a,b],&m)); } }
  let f=sum::fits(&room,&parts);
  println!("{} {:?} parts {} -> polys {} bbox {:?}",p.name,p.size(),parts.len(),f.polygons.len(),f.bbox());
 }
}
