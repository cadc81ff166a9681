//! Which words of names tell what a one-shot is: the tables alone, without the reading of them.
//!
//! Words are written as they are looked up: in small letters, without accents, two or three of them as a phrase. A plural
//! `s` needs no entry of its own.

/// A kind of percussion instrument, before it is told which of its pieces is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Drum {
    Kick,
    Snare,
    Stick,
    Clap,
    Hat,
    Tom,
    Ride,
    Crash,
    China,
    Splash,
    /// A cymbal of which nothing more is told.
    Cymbal,
    Tambourine,
    Cowbell,
    Shaker,
    Bongo,
    Conga,
    Timbale,
    Agogo,
    Cabasa,
    Maracas,
    Guiro,
    Claves,
    Woodblock,
    Triangle,
    Vibraslap,
    Whistle,
    Cuica,
}

/// What tells the pieces of one instrument apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    Open,
    Closed,
    Pedal,
    High,
    Mid,
    Low,
    Floor,
    Mute,
    Slap,
    Bell,
    Short,
    Long,
    /// Of a hat: not quite open, or well closed. Counted where nothing plainer is said.
    Loose,
    Tight,
}

/// What a word of a name means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Sense {
    /// An instrument, and how surely the word means it, from 0 to 1.
    Drum(Drum, f64),
    /// An instrument and one of its ways in one word, as in `chh`.
    Both(Drum, Way, f64),
    Way(Way),
    /// Not a percussion piece: another instrument, a voice, an effect.
    Other,
    /// Not a single stroke: a loop, a fill, a groove.
    Phrase,
    /// The instrument before it is only likened to: `kick-like`, `tom-ish`.
    Like,
    /// Says nothing of the piece, and is at home in names of drums and of their folders.
    Plain,
}

use Drum::{
    Agogo, Bongo, Cabasa, China, Clap, Claves, Conga, Cowbell, Crash, Cuica, Cymbal, Guiro, Hat, Kick, Maracas, Ride,
    Shaker, Snare, Splash, Stick, Tambourine, Timbale, Tom, Triangle, Vibraslap, Whistle, Woodblock,
};
use Sense::{Both, Drum as Of, Like, Other, Phrase, Plain, Way as By};
use Way::{Bell, Closed, Floor, High, Long, Loose, Low, Mid, Mute, Open, Pedal, Short, Slap, Tight};

/// A word that means nothing else.
const SURE: f64 = 1.0;
/// A usual abbreviation.
const USUAL: f64 = 0.85;
/// A word that has another meaning too.
const LIKELY: f64 = 0.65;
/// Two letters that may be anything.
const TERSE: f64 = 0.45;

/// What words and phrases mean. Names of General MIDI Level 1's percussion map are here [memory]; the rest is [practice].
pub(crate) const SENSES: &[(Sense, &str)] = &[
    (
        Of(Kick, SURE),
        "kick, kik, kickdrum, kick drum, bass drum, bassdrum, bassdrm, bass drm, b drum, subkick, sub kick, gran cassa",
    ),
    (
        Of(Kick, SURE),
        "grosse trommel, basstrommel, basedrum, grosse caisse, gran casa, bombo, bumbo, grancassa, bastrumma, stortrommel, \
         grote trom, бочка, большой барабан, бас барабан, кик, キック, バスドラム, 底鼓, 大鼓, 킥",
    ),
    (Of(Kick, USUAL), "bd, kck, kk, kic, kd, bdrum, bsdrum, cassa"),
    (Of(Snare, SURE), "snare, snaredrum, snare drum, snr, snrs"),
    (
        Of(Snare, SURE),
        "kleine trommel, kleinetrommel, caisse claire, rullante, redoblante, virvel, virveltrumma, lilletrommel, kleine trom, \
         малый барабан, рабочий барабан, малый, рабочий, снейр, снэр, スネア, スネアドラム, 军鼓, 小鼓, 스네어",
    ),
    (Of(Snare, USUAL), "sd, sn, snre, sna, caja, caixa"),
    (
        Of(Stick, SURE),
        "sidestick, side stick, stick side, crossstick, cross stick, xstick, x stick, xstk, xstik, rimclick, rim click, \
         rimknock, rim knock, рим, リムショット, リム",
    ),
    (Of(Stick, USUAL), "rimshot, rim shot, sstick, rimsht"),
    (Of(Stick, LIKELY), "rim, stick click"),
    (Of(Stick, TERSE), "rs, rc, stk, stick"),
    (
        Of(Clap, SURE),
        "clap, handclap, hand clap, clp, clapping, hndclp, hclap, palmas, palmada, handklatschen, klatschen, хлопок, хлопки, \
         クラップ, ハンドクラップ, 拍手, 掌声, 박수",
    ),
    (Of(Clap, TERSE), "cp"),
    (Of(Hat, SURE), "hat, hihat, hi hat, high hat, hh, hhat, hht, hts"),
    (
        Of(Hat, SURE),
        "charleston, charley, charly, chimbal, contratempo, хай хэт, хайхэт, хэт, хет, хай хет, ハイハット, ハット, 踩镲, 踩鑔, 하이햇",
    ),
    (
        Both(Hat, Closed, SURE),
        "chh, hhc, closedhat, closehat, hatclsd, hhcl, clhh, clhat, ch hat, クローズハイハット",
    ),
    (
        Both(Hat, Open, SURE),
        "ohh, hho, openhat, ohat, hhop, ophh, ophat, hihatopn, オープンハイハット",
    ),
    (
        Both(Hat, Pedal, SURE),
        "phh, hhp, pedalhat, hhped, pedhh, fhh, hhf, foothat",
    ),
    (Both(Hat, Closed, TERSE), "ch"),
    (Both(Hat, Open, TERSE), "oh"),
    (
        Of(Tom, SURE),
        "tom, tomtom, tom tom, racktom, rack tom, toms, том, томы, タム, 톰",
    ),
    (Of(Tom, TERSE), "tm"),
    (
        Both(Tom, Floor, SURE),
        "floortom, standtom, stand tom, flrtom, フロアタム, напольный том",
    ),
    (Both(Tom, Low, SURE), "lowtom, lotom, ロータム"),
    (Both(Tom, Mid, SURE), "midtom, ミッドタム"),
    (Both(Tom, High, SURE), "hightom, hitom, ハイタム"),
    (Both(Tom, Floor, TERSE), "ft"),
    (Both(Tom, Low, TERSE), "lt, lowt"),
    (Both(Tom, Mid, TERSE), "mt, midt"),
    (Both(Tom, High, TERSE), "ht"),
    (
        Of(Ride, SURE),
        "ride, ridecymbal, ride cymbal, ridecym, rides, райд, ライド, 라이드",
    ),
    (Of(Ride, TERSE), "rd, rde, rdcym, rid"),
    (
        Both(Ride, Bell, SURE),
        "ridebell, ride bell, ride cup, ridecup, rdbell, rd bell, rb bell, cymbal bell",
    ),
    (
        Of(Crash, SURE),
        "crash, crashcymbal, crash cymbal, crashcym, crashes, crsh, крэш, креш, クラッシュ, 크래시",
    ),
    (Of(Crash, TERSE), "cr, crs, crh"),
    (
        Of(China, SURE),
        "china, china crash, chinese cymbal, chinacymbal, chinacym, chn, чайна, チャイナ",
    ),
    (
        Of(Splash, SURE),
        "splash, splashcymbal, splashcym, splsh, spl, сплэш, スプラッシュ",
    ),
    (
        Of(Cymbal, LIKELY),
        "cymbal, cym, cymb, becken, cymbale, piatto, piatti, platillo, prato, тарелка, тарелки, シンバル, 镲",
    ),
    (Of(Cymbal, TERSE), "cy"),
    (
        Of(Tambourine, SURE),
        "tambourine, tamborine, tamburine, tambourin, tamborin, tamb, tambo, tmb, tmbn, tamba, schellenkranz, pandereta, \
         pandeiro, tamburello, tamburin, бубен, タンバリン, 铃鼓, 탬버린",
    ),
    (
        Of(Cowbell, SURE),
        "cowbell, cow bell, cbell, cowbl, kuhglocke, cencerro, cloche vache, campanaccio, коубелл, ковбелл, カウベル, 牛铃, 카우벨",
    ),
    (
        Of(Shaker, SURE),
        "shaker, shkr, shkrs, shak, egg shaker, шейкер, シェイカー, シェーカー, 沙锤, 셰이커",
    ),
    (Of(Shaker, LIKELY), "shk, shake"),
    (Of(Bongo, SURE), "bongo, bongoes, bng, bngo, бонго, ボンゴ, 봉고"),
    (
        Of(Conga, SURE),
        "conga, cga, cng, cnga, quinto, конга, конги, コンガ, 콩가",
    ),
    (Both(Conga, Low, SURE), "tumba, tumbadora"),
    (
        Of(Timbale, SURE),
        "timbale, timb, tmbl, timbl, timbal, тимбалес, ティンバレス",
    ),
    (Of(Agogo, SURE), "agogo, ago, agg, agogo bell, агого, アゴゴ"),
    (Of(Cabasa, SURE), "cabasa, cabaza, afuche, afoxe, cabas, кабаса, カバサ"),
    (Of(Maracas, TERSE), "ma"),
    (Of(Cowbell, TERSE), "cb"),
    (
        Of(Maracas, SURE),
        "maraca, maracas, marac, mrcs, rumba rasseln, маракасы, маракас, マラカス, 마라카스",
    ),
    (Of(Guiro, SURE), "guiro, gueiro, raspador, reco reco, гуиро, гиро, ギロ"),
    (
        Of(Claves, SURE),
        "clave, claves, clv, clvs, klanghoelzer, klangholz, клавес, クラベス",
    ),
    (Of(Woodblock, TERSE), "wb"),
    (
        Of(Woodblock, SURE),
        "woodblock, wood block, wblock, wblk, wdblk, woodblk, wood blk, wd block, wd blk, holzblock, woodblok, bloc bois, \
         вудблок, ウッドブロック",
    ),
    (
        Of(Triangle, SURE),
        "triangle, triangel, trngl, trgl, trngle, triang, triangolo, triangulo, треугольник, トライアングル, 三角铁, 트라이앵글",
    ),
    (Of(Triangle, LIKELY), "tri"),
    (Of(Vibraslap, SURE), "vibraslap, vibra slap, vslap"),
    (Of(Whistle, LIKELY), "whistle, samba whistle, apito"),
    (Of(Cuica, SURE), "cuica, kuica, quica"),
    (
        By(Open),
        "open, opn, op, opened, half open, semi open, halfopen, offen, ouvert, ouverte, aberto, aberta, abierto, abierta, \
         aperto, oppen, открытый, открытая, オープン, 开",
    ),
    (
        By(Closed),
        "closed, close, cls, clsd, cl, clos, shut, geschlossen, ferme, fermee, fechado, cerrado, chiuso, stangd, закрытый, \
         закрытая, クローズ, クローズド, 闭",
    ),
    (
        By(Pedal),
        "foot splash, pedal, ped, foot, chick, chik, pdl, fuss, pied, педаль, ペダル",
    ),
    (By(High), "high, hi, hoch, aigu, agudo, alto, macho, высокий, ハイ"),
    (
        By(Mid),
        "mid, middle, med, hi mid, high mid, mid high, mid hi, low mid, lo mid, mid low, mid lo, himid, lowmid, midhigh, \
         midlow, mittel, medio, средний, ミッド",
    ),
    (By(Low), "low, lo, tief, grave, bajo, hembra, низкий, ロー"),
    (By(Floor), "floor, flr, fl, flor, напольный, フロア"),
    (
        By(Mute),
        "mute, muted, damped, mut, damp, choked, muffled, heel, ミュート",
    ),
    (By(Slap), "slap, slp, スラップ"),
    (By(Bell), "bell, cup, bel"),
    (By(Short), "short, shrt, kurz"),
    (By(Long), "long, lang"),
    (
        By(Loose),
        "loose, sizzle, washy, halfway, half, slosh, sloshy, swish, semi, quarter, wash",
    ),
    (By(Tight), "tight, tip, edge, shank, crisp, tick"),
    (
        Other,
        "bass, sub, subs, synth, pad, piano, keys, key, organ, guitar, gtr, strings, string, vox, vocal, voice, voc, acapella, \
         chant, shout, horn, brass stab, sax, trumpet, flute, bassoon, cello, violin, choir, chord, stab, lead, pluck, arp, \
         melody, melodic, riff, lick, bell tower",
    ),
    (
        Other,
        "timpani, vibes, vibraphone, marimba, xylophone, glockenspiel, glock, kalimba, tubular bell, tubular, music box, steel \
         drum, steelpan, steel pan, handpan, gong, bell tree, wind chime, chime, celesta, harp, double bass, slap \
         bass, bass drop, bassline",
    ),
    (
        Other,
        "fx, sfx, riser, uplifter, downlifter, sweep, noise, white noise, vinyl, crackle, impact, drop, ambience, ambient, \
         foley, texture, drone, atmo, atmos, transition, reverse, reversed, rev, laser, siren, car crash, crash landing, waves, \
         door, creak, finger snap, snap, stomp, drum stick, beat, break",
    ),
    (
        Phrase,
        "loop, lp, fill, groove, breakbeat, phrase, toploop, top loop, drumloop, songstarter, pattern, full \
         mix, stem, stems, луп, ループ, 루프",
    ),
    (Like, "like, ish, esque, style"),
    (
        Plain,
        "drum, drums, perc, percussion, percs, percussive, cymbals, hit, shot, one shot, oneshot, single, sample, sound, \
         acoustic, electronic, electric, acou, elec, elect, multi, processed, raw, dry, wet, clean, dirty, layer, layered, \
         mono, stereo, wav, wave, wavs, aif, aiff, flac, audio, in, inch, zoll, bit, khz, hz, k, b, bpm, vel, velocity, rr, \
         take, top, bottom, btm, out, inside, outside, room, rack, main, side, second, first, left, right, center, centre, \
         soft, hard, medium, loud, ghost, normal, hand, shell, misc, fx hits, old, new, copy, of, final, and, a, c, d, e, f, g, \
         h, l, r, p, o, v, x, mf, ff, pp, mp, sfz, light, heavy, deep, dark, bright, fat, punchy, snappy, big, small, boomy, \
         crack, thud, dusty, vintage, ping, bow, stick, brush, mallet, felt, wood, brass, steel, maple, metal",
    ),
];

/// Words for how hard a take is struck, from the softest up: players' words and the dynamics of a score. A take without any
/// lies between mezzo-forte and forte.
pub(crate) const DYNAMICS: &[(&str, f64)] = &[
    ("ppp", 0.5),
    ("ghost", 1.0),
    ("pp", 1.0),
    ("p", 2.0),
    ("soft", 2.0),
    ("softest", 1.0),
    ("softer", 1.5),
    ("gentle", 2.0),
    ("light", 2.0),
    ("quiet", 2.0),
    ("min", 1.0),
    ("mp", 3.0),
    ("medium", 3.5),
    ("med", 3.5),
    ("mf", 4.0),
    ("f", 5.0),
    ("hard", 5.0),
    ("loud", 5.0),
    ("heavy", 5.0),
    ("strong", 5.0),
    ("harder", 5.5),
    ("louder", 5.5),
    ("hardest", 6.5),
    ("loudest", 6.5),
    ("max", 6.5),
    ("ff", 6.0),
    ("accent", 6.0),
    ("fff", 7.0),
];

/// How hard a take without a word for it is struck.
pub(crate) const PLAIN: f64 = 4.5;

/// Words before a number that say which layer it is, the softest first.
pub(crate) const LAYER_WORDS: &[&str] = &["v", "vel", "velo", "velocity", "layer", "lyr", "l", "dyn", "dynamic"];

/// Words before a number that say which turn it is.
pub(crate) const TURN_WORDS: &[&str] = &[
    "rr", "r", "take", "tk", "hit", "alt", "var", "robin", "no", "nr", "copy",
];

/// Units behind a number that tell nothing of a sound: bits, rates, tempos.
pub(crate) const UNITS: &[&str] = &["bit", "bits", "b", "k", "khz", "hz", "bpm"];

/// Diameters of toms in inches up to which each is one, by the usual sets of 10, 12 and 14 or 16 inches [practice].
pub(crate) const TOM_SIZES: &[(u32, Way)] = &[(11, High), (12, Mid), (13, Low), (20, Floor)];

/// Diameters that toms are made in, which a number behind the word is likely to be.
pub(crate) const TOM_DIAMETERS: &[u32] = &[8, 10, 12, 13, 14, 15, 16, 18];
