use super::problem::*;
use super::program::*;
pub(crate) fn solve(problem: &Problem, wanted: &dyn Fn() -> bool) -> Option<Solution> {
    let cal = Calendar::new(&problem.jobs);
    let mut p = Program::default();
    let mut terms: Vec<Vec<(usize, usize, f64)>> = vec![vec![]; problem.stocks.len()];
    for (j, job) in problem.jobs.iter().enumerate() {
        let mut row = vec![];
        for c in &job.choices {
            let x = p.column(0.0, 1.0);
            row.push((x, -1.0));
            terms[c.sensor].push((j, x, f64::from(job.anglers)));
        }
        p.rows.push((row, -1.0));
    }
    for (s, stock) in problem.stocks.iter().enumerate() {
        let buy = stock.price.map(|price| p.column(-(price as f64), 1000.0));
        for d in 0..cal.days {
            let mut row: Vec<(usize, f64)> = terms[s].iter().filter(|(j, _, _)| cal.spans[*j].0 <= d && d <= cal.spans[*j].1).map(|(_, x, a)| (*x, *a)).collect();
            if let Some(b) = buy { row.push((b, -1.0)); }
            p.rows.push((row, f64::from(stock.ready)));
        }
    }
    eprintln!("{} columns {} rows {} days", p.columns.len(), p.rows.len(), cal.days);
    let t = std::time::Instant::now();
    let r = p.relaxed().unwrap();
    eprintln!("lp {} {:?}", r.bound, t.elapsed());
    let v = r.values.unwrap();
    let mut k = 0;
    let mut frac = 0;
    for job in &problem.jobs { if v[k..k+job.choices.len()].iter().any(|x| *x > 1e-6 && *x < 1.0-1e-6) { frac += 1; } k += job.choices.len(); }
    for (s, st) in problem.stocks.iter().enumerate() { eprint!("{s}:{}r{}b{:.2} ", st.price.unwrap(), st.ready, v[k + s]); }
    eprintln!("frac jobs {frac}");
    let t = std::time::Instant::now();
    let mut kk = 0;
    let mut given = vec![];
    for job in &problem.jobs { let best = (0..job.choices.len()).max_by(|a, b| v[kk+a].total_cmp(&v[kk+b])).unwrap(); given.push(Some(job.choices[best].sensor)); kk += job.choices.len(); }
    let mut n = super::state::State::of(problem, &cal, &given);
    eprintln!("lp near {:?} {:?}", n.cost(), t.elapsed());
    super::local::cheapen(&mut n, wanted);
    eprintln!("lp local {:?} {:?}", n.cost(), t.elapsed());
    let t = std::time::Instant::now();
    let mut state = super::local::greedy(problem, &cal);
    eprintln!("greedy {:?} {:?}", state.cost(), t.elapsed());
    super::local::cheapen(&mut state, wanted);
    eprintln!("local {:?} {:?}", state.cost(), t.elapsed());
    for s in 0..problem.stocks.len() { eprint!("{} ", state.peak(s).saturating_sub(problem.stocks[s].ready)); }
    for n in [16] {
    let t = std::time::Instant::now();
    let r = p.search(None, Effort { gap: 0.005, nodes: n }, wanted).unwrap();
    eprintln!("mip {:?} {} {:?}", r.values.map(|v| v.iter().zip(&p.columns).map(|(v, c)| v * c.0).sum::<f64>()), r.bound, t.elapsed());
    }
    None
}
