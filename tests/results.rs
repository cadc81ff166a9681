//! `results FILE...`: what many people answered on one listening page, merged by exact tests, a model of paired comparison and
//! intervals. The figures are scipy's; the page's own are held to the same file of values by `tests/browser/check.py`.

use pressroll::internals::listening::{as_far, at_least, holm, over_average, strengths};
use serde_json::{Value, json};

use crate::support::{Answer, Desk, assert_near, list, number, reference};

fn numbers(values: &Value) -> Vec<f64> {
    values.as_array().expect("a list").iter().map(number).collect()
}

#[test]
fn exact_tests_and_adjustment_equal_scipys() {
    let paired = reference("paired");
    for case in list(&paired, "binomial") {
        let (k, n) = (number(&case["k"]) as usize, number(&case["n"]) as usize);
        for (ours, theirs) in [
            (at_least(k, n, 0.5), number(&case["at_least"])),
            (as_far(k, n, 0.5), number(&case["as_far"])),
        ] {
            assert!(
                (ours / theirs - 1.0).abs() < 1e-9,
                "{k} of {n}: {ours}, wanted {theirs}"
            );
        }
    }
    for case in list(&paired, "holm") {
        let adjusted = holm(&numbers(&case["p"]));
        for (ours, theirs) in adjusted.iter().zip(numbers(&case["adjusted"])) {
            assert_near(*ours, theirs, 1e-12, &case["p"]);
        }
    }
}

#[test]
fn strengths_equal_scipys() {
    let paired = reference("paired");
    for case in list(&paired, "models") {
        let wins: Vec<Vec<f64>> = list(case, "wins").iter().map(numbers).collect();
        let model = strengths(&wins);
        assert_eq!(Value::from(model.added), case["added"]);
        let errors = (0..wins.len()).map(|n| model.covariance[n][n].sqrt());
        let ours = model.log.iter().copied().zip(errors);
        let theirs = numbers(&case["log"]).into_iter().zip(numbers(&case["errors"]));
        for ((log, error), (wanted, wanted_error)) in ours.zip(theirs) {
            assert_near(log, wanted, 1e-6, &case["wins"]);
            assert_near(error, wanted_error, 1e-6, &case["wins"]);
        }
    }
}

/// A page's identity.
const PAGE: &str = "3f2a91c4d0b23f2a91c4d0b23f2a91c4d0b23f2a91c4d0b23f2a91c4d0b23f2a";

/// Results of one listener, as the page writes them.
fn results(listener: Option<&str>, tests: &[Value]) -> Value {
    let versions = ["as written", "bass forward", "drier"].map(|name| json!({ "name": name, "setting": null }));
    json!({
        "pressroll_results": 1,
        "page": { "title": "Night ferry", "identity": PAGE, "versions": versions },
        "listener": listener,
        "tests": tests,
    })
}

/// An ABX test between the first two versions in which so many of the answers are correct.
fn abx(id: &str, correct: usize, rounds: usize) -> Value {
    let round = |n: usize| {
        let (x, answer) = match n % 2 {
            0 => (1, if n < correct { "A" } else { "B" }),
            _ => (2, if n < correct { "B" } else { "A" }),
        };
        json!({ "round": n + 1, "a": 1, "b": 2, "x": x, "answer": answer, "guess": answer, "correct": n < correct, "seconds": 4.5 })
    };
    let rounds: Vec<Value> = (0..rounds).map(round).collect();
    json!({ "id": id, "kind": "which", "versions": [1, 2], "rounds_set": rounds.len(), "complete": true, "rounds": rounds })
}

/// A test of preferences: pairs of versions, and which of the two was preferred, 0 for neither.
fn preferences(id: &str, answers: &[(usize, usize, usize)]) -> Value {
    let round = |(n, (a, b, preferred)): (usize, &(usize, usize, usize))| {
        let answer = match *preferred {
            0 => "can't tell",
            preferred if preferred == *a => "A",
            _ => "B",
        };
        let preferred = (*preferred > 0).then_some(preferred);
        json!({ "round": n + 1, "a": a, "b": b, "answer": answer, "preferred": preferred, "seconds": 3.0 })
    };
    let rounds: Vec<Value> = answers.iter().enumerate().map(round).collect();
    json!({ "id": id, "kind": "prefer", "versions": [1, 2, 3], "rounds_set": rounds.len(), "complete": true, "rounds": rounds })
}

fn desk(files: &[(&str, Value)]) -> Desk {
    let desk = Desk::new();
    for (name, value) in files {
        desk.write(name, value.to_string());
    }
    desk
}

fn merged(desk: &Desk, arguments: &[&str]) -> Value {
    let answer = desk.run(&[&["results", "--json"], arguments].concat());
    answer.assert_done();
    serde_json::from_str(&answer.out).expect("JSON")
}

fn refused(desk: &Desk, arguments: &[&str]) -> String {
    let Answer { code, err, .. } = desk.run(&[&["results"], arguments].concat());
    assert_eq!(code, Some(1), "{err}");
    err
}

#[test]
fn many_listeners_make_one_score() {
    let desk = desk(&[
        ("ines.json", results(Some("Ines"), &[abx("a", 9, 10)])),
        ("tove.json", results(None, &[abx("b", 7, 10)])),
    ]);
    let told = merged(&desk, &["ines.json", "tove.json"]);
    let score = &told["scores"][0];
    assert_eq!((&score["correct"], &score["rounds"]), (&json!(16), &json!(20)));
    // scipy.stats.binomtest(16, 20, 0.5, alternative="greater").pvalue
    assert_near(number(&score["p"]), 0.005_908_966, 1e-9, "p of both");
    assert_eq!(score["each"][0][0], "Ines");
    assert_eq!(score["each"][1][0], "listener 2");
    let [low, high] = ["low", "high"].map(|end| number(&score["share"][end]));
    assert!(low > 0.5 && low < 0.8 && high > 0.8 && high <= 1.0, "{low} {high}");
    let page = desk.run(&["results", "ines.json", "tove.json"]).out;
    for words in [
        "16 of 20",
        "0.0059",
        "Evidence of an audible difference.",
        "2 listeners",
        "seed 1",
        "9 of 10",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
}

#[test]
fn preferences_of_many_have_strengths_with_intervals() {
    // Each pair six times: the second version wins most often, the third least.
    let one = [(1, 2, 2), (2, 1, 2), (1, 3, 1), (3, 1, 1), (2, 3, 2), (3, 2, 2)];
    let other = [(1, 2, 2), (2, 1, 1), (1, 3, 1), (3, 1, 3), (2, 3, 3), (3, 2, 0)];
    let desk = desk(&[
        (
            "a.json",
            results(Some("Ines"), &[preferences("a", &one), preferences("b", &one)]),
        ),
        ("b.json", results(Some("Tove"), &[preferences("c", &other)])),
    ]);
    let told = merged(&desk, &["a.json", "b.json"]);
    let preferred = &told["preferences"];
    let order: Vec<f64> = list(preferred, "strengths").iter().map(|one| number(&one[0])).collect();
    assert_eq!(order, [2.0, 1.0, 3.0]);
    let model = strengths(&[vec![0.0, 1.0, 5.0], vec![5.0, 0.0, 4.5], vec![1.0, 1.5, 0.0]]);
    for (one, version) in list(preferred, "strengths").iter().zip([1, 0, 2]) {
        assert_near(number(&one[1]["is"]), over_average(model.log[version]), 1e-9, one);
        assert!(number(&one[1]["low"]) <= number(&one[1]["is"]) && number(&one[1]["is"]) <= number(&one[1]["high"]));
    }
    let pairs = list(preferred, "pairs");
    assert_eq!(
        (&pairs[0]["versions"], &pairs[0]["preferred"]),
        (&json!([2, 1]), &json!(5))
    );
    assert_eq!((&pairs[2]["told"], &pairs[2]["ties"]), (&json!(5), &json!(1)));
    // The same files and seed: the same figures; another seed draws other intervals, and the same shares.
    assert_eq!(told, merged(&desk, &["a.json", "b.json"]));
    let redrawn = merged(&desk, &["a.json", "b.json", "--seed", "2"]);
    assert_eq!(redrawn["preferences"]["pairs"], preferred["pairs"]);
    assert_ne!(redrawn["preferences"]["strengths"], preferred["strengths"]);
}

/// Of tests whose answers are known, about 95 in 100 intervals hold the chance that they were drawn from.
#[test]
fn intervals_hold_what_they_promise() {
    let mut state = 7_u64;
    let mut share = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (state >> 40) as f64 / f64::from(1 << 24)
    };
    let desk = Desk::new();
    let (times, mut held) = (20, 0);
    for _ in 0..times {
        let correct: usize = (0..60).filter(|_| share() < 0.75).count();
        desk.write("one.json", results(None, &[abx("a", correct, 60)]).to_string());
        let told = merged(&desk, &["one.json"]);
        let [low, high] = ["low", "high"].map(|end| number(&told["scores"][0]["share"][end]));
        held += usize::from(low <= 0.75 && 0.75 <= high);
    }
    // Fewer than 15 of 20 come by chance once in 3000 where each holds with 0.95.
    assert!(held >= 15, "{held} of {times}");
}

#[test]
fn what_does_not_belong_together_is_refused() {
    let mut strange = results(Some("Tove"), &[abx("b", 7, 10)]);
    strange["page"]["identity"] = json!("91cc");
    let mut edited = results(Some("Ines"), &[abx("a", 9, 10)]);
    edited["tests"][0]["rounds"][9]["correct"] = json!(true);
    let desk = desk(&[
        ("ines.json", results(Some("Ines"), &[abx("a", 9, 10)])),
        ("strange.json", strange),
        ("edited.json", edited),
        ("other.json", results(Some("Ines"), &[abx("a", 8, 10)])),
        ("none.json", results(Some("Ines"), &[])),
        ("no.json", json!({ "name": "a song" })),
    ]);
    let another = refused(&desk, &["ines.json", "strange.json"]);
    assert!(
        another.contains("strange.json is of another page than ines.json"),
        "{another}"
    );
    assert!(refused(&desk, &["edited.json"]).contains("says in round 10 what can't be"));
    assert!(refused(&desk, &["ines.json", "other.json"]).contains("one test with different answers"));
    assert!(refused(&desk, &["none.json"]).contains("no test that ended"));
    assert!(refused(&desk, &["no.json"]).contains("is not the results of a listening page"));
    assert!(refused(&desk, &["absent.json", "no.json"]).contains("absent.json"));
}

#[test]
fn a_test_counts_once_and_only_where_it_ended() {
    let mut left = abx("c", 3, 3);
    left["rounds_set"] = json!(10);
    left["complete"] = json!(false);
    let desk = desk(&[
        ("first.json", results(Some("Ines"), &[abx("a", 9, 10)])),
        (
            "later.json",
            results(Some("Ines"), &[abx("a", 9, 10), abx("b", 5, 10), left]),
        ),
    ]);
    let told = merged(&desk, &["first.json", "later.json"]);
    assert_eq!(
        (&told["tests"], &told["twice"], &told["left"]),
        (&json!(2), &json!(1), &json!(1))
    );
    assert_eq!(
        (&told["scores"][0]["correct"], &told["listeners"]),
        (&json!(14), &json!(1))
    );
}

#[test]
fn results_are_drawn() {
    let desk = desk(&[(
        "ines.json",
        results(
            Some("Ines"),
            &[abx("a", 9, 10), preferences("b", &[(1, 2, 2), (1, 3, 1), (3, 2, 3)])],
        ),
    )]);
    for name in ["heard.svg", "heard.png"] {
        desk.run(&["results", "ines.json", "--picture", name]).assert_done();
    }
    let drawn = std::fs::read_to_string(desk.path("heard.svg")).expect("a picture");
    for words in [
        "Night ferry",
        "9 of 10 correct",
        "2 bass forward",
        "50 %",
        "intervals of 95 %",
    ] {
        assert!(drawn.contains(words), "{words}");
    }
    assert!(
        std::fs::read(desk.path("heard.png"))
            .expect("a picture")
            .starts_with(b"\x89PNG")
    );
    assert!(refused(&desk, &["ines.json", "--picture", "heard.pdf"]).contains("neither NAME.svg nor NAME.png"));
    desk.write("mine.svg", "my own");
    assert!(refused(&desk, &["ines.json", "--picture", "mine.svg"]).contains("does not carry pressroll's mark"));
}
