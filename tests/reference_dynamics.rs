//! A compressor at rest follows the curve of Giannoulis, Massberg and Reiss (JAES 2012), knee and all.

use crate::support::{Desk, assert_near, list, meter, number, reference, tab};

#[test]
fn a_steady_level_comes_out_where_the_static_curve_says() {
    let values = reference("dynamics");
    assert_eq!(list(&values, "curves").len(), 4);
    let desk = Desk::new();
    // Steady for 1.9 s: a level that never moves asks nothing of a detector.
    let steady = vec![1.0; 91200];
    desk.one_shot("steady.wav", &[steady.clone(), steady]);
    for curve in list(&values, "curves") {
        let (inputs, outputs) = (list(curve, "in"), list(curve, "out"));
        let bars = inputs.len() as u32;
        // One level a bar of 2 s.
        let mut text = format!("[loop]\ntempo = 120\nbars = {bars}\nending = \"damp\"\n[master]\nceiling = \"off\"\n");
        text += &format!(
            "[[bus]]\nname = \"all\"\ncompress = {{ threshold = {}, ratio = {}, knee = {}, attack = 5, release = 50 }}\n",
            curve["threshold"], curve["ratio"], curve["knee"]
        );
        for (n, input) in inputs.iter().enumerate() {
            text += &format!(
                "[[part]]\nname = \"level-{n}\"\npiece = \"steady\"\nbus = \"all\"\ngain = {input}\n\
                 [part.hits]\n\"{}\" = \"9---\"\n",
                n + 1
            );
        }
        let sound = desk.render(&text);
        for (n, wanted) in outputs.iter().enumerate() {
            let at = n * 96000 + 84000;
            let is = meter::db(f64::from(sound.left()[at]));
            let what = format!("{} dB into {}:{}", inputs[n], curve["threshold"], curve["ratio"]);
            assert_near(is, number(wanted), 0.05, what);
        }
    }
}

#[test]
fn attack_and_release_are_times_to_63_percent() {
    let desk = Desk::new();
    let step = |level: f64, frames: usize| vec![10f64.powf(level / 20.0) as f32; frames];
    // A quiet second, a loud one, a quiet one.
    let steady = [step(-40.0, 48000), step(-8.0, 48000), step(-40.0, 48000)].concat();
    desk.one_shot("step.wav", &[steady.clone(), steady.clone()]);
    let text = tab("60", 1, "step 9---")
        + "[[part]]\nname = \"step\"\ntrim = false\ncompress = { threshold = -20, ratio = 4, knee = 0, attack = 30, release = 200 }\n";
    let sound = desk.render(&(text + "[master]\nceiling = \"off\"\n"));
    let reduction = |frame: usize| meter::db(f64::from(sound.left()[frame] / steady[frame]));
    // T -20, R 4, in -8: out -17, so 9 dB down.
    assert_near(reduction(95990), -9.0, 0.05, "at rest");
    let share = 1.0 - (-1.0f64).exp();
    assert_near(reduction(48000 + 1440), -9.0 * share, 1.0, "30 ms into the attack");
    assert_near(
        reduction(96000 + 9600),
        -9.0 * (1.0 - share),
        1.0,
        "200 ms into the release",
    );
}

#[test]
fn blend_mixes_squeezed_and_plain() {
    let desk = Desk::new();
    let steady = vec![10f32.powf(-8.0 / 20.0); 96000];
    desk.one_shot("steady.wav", &[steady.clone(), steady]);
    let text = tab("60", 1, "steady 9---")
        + "[[part]]\nname = \"steady\"\ncompress = { threshold = -20, ratio = 4, knee = 0, attack = 5, blend = 40 }\n";
    let sound = desk.render(&(text + "[master]\nceiling = \"off\"\n"));
    let amplitude = |level: f64| 10f64.powf(level / 20.0);
    let wanted = 0.4 * amplitude(-17.0) + 0.6 * amplitude(-8.0);
    assert_near(
        meter::db(f64::from(sound.left()[90000])),
        meter::db(wanted),
        0.05,
        "40 percent",
    );
}
