// Time and sound: all versions run in step on one clock, one of them is heard.

const { rate, versions } = told;
const difference = { name: "difference" }; // heard in place of a version; `difference.js` gives it bars and sound
const DIFFERENCE = versions.length;
/** The version of a number from 0, or the difference behind them. */
const version = (n) => versions[n] ?? difference;
const CHANGE = 0.01; // seconds in which one version gives way to another
const SILENT = 0.001; // seconds of silence in the middle of a blind change
const PENDING = 100; // lines of a fader that are remembered: more than any hand sets out within LEAD and CHANGE
const ROOM = 256e6; // bytes of decoded sound that are kept for versions that do not play
const AT_ONCE = 4; // versions that are decoded side by side
const LEAD = 0.03; // seconds between a command and the sound, so that all of it can be set out in time
const OFF = -60; // dB at which the volume is off
const PATIENCE = 1500; // ms in which a browser that has a sound output opens it
let LAST = told.bars.length - 1; // the last bar, until a newer render has more

// ---- Time: frames and bars -----------------------------------------------------------------------------------------

/** The frame at which a bar of a version begins, counted from 0; past the last one, where that ends. */
const start = (version, bar) => (bar > LAST ? version.end : version.starts[bar]);

/** A frame of a version as a place in bars: 1.5 is half way through the second. */
function inBars(version, frame) {
  let bar = version.starts.findLastIndex((begins) => begins <= frame);
  bar = Math.max(0, bar);
  return bar + (frame - start(version, bar)) / (start(version, bar + 1) - start(version, bar));
}

/** The frame at a place in bars, which may be its end. */
function edge(version, place) {
  const bar = Math.min(LAST, Math.max(0, Math.floor(place)));
  return Math.round(start(version, bar) + (place - bar) * (start(version, bar + 1) - start(version, bar)));
}

/** A place in bars as a frame of a version. */
const inFrames = (version, place) => Math.min(version.frames - 1, Math.max(0, edge(version, place)));

const sameGrid = (a, b) => a.frames === b.frames && a.end === b.end && a.starts.every((at, n) => at === b.starts[n]);

// ---- Sound ---------------------------------------------------------------------------------------------------------

function bytes(text) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
  const raw = atob(text);
  const out = new Uint8Array(raw.length);
  for (let n = 0; n < raw.length; n++) out[n] = raw.charCodeAt(n);
  return out;
}

const wait = (ms) => new Promise((done) => setTimeout(done, ms));

/** A version's sound as it is stored: on the server that the page is from, or in the page once it has been read so far. */
async function stored(n) {
  if ($("served")) return fetched(); // served.js, which no page from disk has
  for (;;) {
    const store = document.getElementsByClassName("sound")[n];
    if (store?.nextElementSibling || document.readyState !== "loading") return bytes(store.textContent).buffer;
    await wait(5);
  }
}

/** A sound, decoded at the page's own rate, so that a frame stays a frame whatever the device runs at. */
const decode = (sound) => new OfflineAudioContext(2, 1, rate).decodeAudioData(sound);

const buffers = []; // decoded sound, by the version's number; of many versions only some
const decoding = new Map(); // versions that are being decoded
const used = []; // versions by their last use, the latest at the end
const size = (buffer) => 4 * buffer.numberOfChannels * buffer.length;

/** A version's decoded sound; what has been unused for longest makes room for it. */
async function sound(n) {
  if (buffers[n]) {
    const at = used.indexOf(n);
    if (at >= 0) used.push(...used.splice(at, 1));
    return buffers[n];
  }
  if (!decoding.has(n)) {
    const begun = stored(n)
      .then(decode)
      .then((buffer) => {
        buffers[n] = buffer;
        used.push(n);
        makeRoom();
        return buffer;
      })
      .finally(() => decoding.delete(n));
    decoding.set(n, begun);
  }
  return decoding.get(n);
}

/** Lets go of sound that has been unused for longest, but never of what plays or takes part in a blind test. */
function makeRoom() {
  const needed = (n) => n === sounding || blind?.among.includes(n) || n === used.at(-1);
  let held = used.reduce((sum, n) => sum + size(buffers[n]), 0);
  for (const n of [...used]) {
    if (held <= ROOM) return;
    if (needed(n)) continue;
    held -= size(buffers[n]);
    delete buffers[n];
    used.splice(used.indexOf(n), 1);
  }
}

/** Decodes some versions, a few at once, and tells after each how many are done. */
async function decodeAll(list, tell) {
  const left = [...list];
  let done = 0;
  const one = async () => {
    while (left.length) {
      await sound(left.shift());
      tell(++done, list.length);
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, one));
}

/** What is played: a version's whole buffer, or a stretch of bars whose end runs smoothly into its beginning. */
function take(context, buffer, version, from, to) {
  const whole = from === 0 && to === LAST + 1;
  const [a, b] = whole ? [0, version.frames] : [edge(version, from), edge(version, to)];
  if (a === 0 && b === buffer.length) return { buffer, a, b };
  const cut = context.createBuffer(buffer.numberOfChannels, b - a, rate);
  const fade = Math.min(Math.round(CHANGE * rate), b - a);
  for (let channel = 0; channel < buffer.numberOfChannels; channel++) {
    const whole = buffer.getChannelData(channel);
    const part = cut.getChannelData(channel);
    part.set(whole.subarray(a, b));
    // The last frames give way to those that lead up to the first one.
    for (let n = 0; n < fade; n++) {
      const before = a - fade + n;
      const leads = before >= 0 ? whole[before] : told.repeats ? whole.at(before) : 0;
      const share = (n + 1) / (fade + 1);
      part[b - a - fade + n] = part[b - a - fade + n] * (1 - share) + leads * share;
    }
  }
  return { buffer: cut, a, b };
}

/**
 * A gain that moves along straight lines. It remembers the lines, and so knows its level at any moment to come: a new command
 * begins where the ones before have come to by then. `AudioParam.value` tells the present alone.
 */
class Fader {
  constructor(context, level) {
    this.node = context.createGain();
    this.node.gain.setValueAtTime(level, 0);
    this.points = [{ moment: 0, level }];
  }

  /** The level at which a moment finds it, before what happens at that very moment. */
  at(moment) {
    const next = this.points.findIndex((point) => point.moment >= moment);
    if (next < 1) return this.points.at(next).level;
    const [a, b] = [this.points[next - 1], this.points[next]];
    return a.level + ((b.level - a.level) * (moment - a.moment)) / (b.moment - a.moment);
  }

  /** Stays where a moment finds it. */
  hold(moment) {
    this.to(this.at(moment), moment, 0);
  }

  /** Moves to a level within some seconds from a moment on; what was set out for later is dropped. */
  to(level, moment, seconds) {
    const from = this.at(moment);
    const { gain } = this.node;
    gain.cancelScheduledValues(moment);
    gain.linearRampToValueAtTime(from, moment); // the line that was cut, as far as it gets
    if (seconds > 0) gain.linearRampToValueAtTime(level, moment + seconds);
    else gain.setValueAtTime(level, moment);
    const before = this.points.filter((point) => point.moment < moment).slice(-PENDING);
    this.points = [...before, { moment, level: from }, { moment: moment + seconds, level }];
  }
}

const active = new Set(); // all voices that have not ended, those that fade out too

/** Starts takes at one moment, silent, each at its own frame and through its own fader; `into` says where each goes. */
function startInStep(context, takes, frames, when, round, into) {
  return takes.map((take, n) => {
    const source = context.createBufferSource();
    source.buffer = take.buffer;
    source.loop = round;
    const fader = new Fader(context, 0);
    source.connect(fader.node).connect(into(n));
    source.start(when, (frames[n] - take.a) / rate);
    const started = { source, fader, take, frame: frames[n], when };
    active.add(started);
    source.onended = () => {
      active.delete(started);
      if (voice === started) stop(true);
    };
    return started;
  });
}

let context, volume, dip;
let voice = null; // what is heard
let level = 1; // how loud it is played, as a factor: less than 1 where it is matched to something softer
let sounding = 0; // which version
let place = inBars(versions[0], 0); // where it begins when it is played
let span = [0, LAST + 1]; // the stretch that plays, in bars
let blind = null; // the blind test that is under way
let asked = 0; // the next moment to show
let wanted = null; // a version that plays once it is decoded

const CAN_NOT = "This browser can't read the page's sound; a newer browser plays it.";
/** The first version's sound first, then those of the others for which there is room. */
const decoded = (async () => {
  const first = await sound(0);
  performance.mark("sound: first");
  show();
  const room = Math.max(1, Math.floor(ROOM / size(first)));
  const others = versions.map((_, n) => n).slice(1, room);
  await decodeAll(others, (done) => show(done < others.length && `Loading: ${done + 1} of ${others.length + 1} versions.`));
  performance.mark("sound: all");
  return buffers;
})();
decoded.then(() => show(), () => say(CAN_NOT));

const onGrid = (seconds) => Math.ceil(seconds * rate - 1e-3) / rate; // a sum's last bits shall not cost a frame
const soon = (lead = LEAD) => onGrid(context.currentTime + lead);

/** The frame at which a voice is at a moment. */
function frameAt(voice, moment) {
  const { a, b } = voice.take;
  const frame = voice.frame + Math.max(0, moment - voice.when) * rate;
  return voice.source.loop ? a + ((frame - a) % (b - a)) : Math.min(frame, b);
}

const placeNow = () => (voice ? inBars(version(sounding), frameAt(voice, context.currentTime)) : place);

/**
 * Lets the voice be heard and no other; what it has replaced ends, but for what goes on beneath it. All fade within the same
 * time, so their gains never come to more than 1 together.
 */
function balance(when, seconds) {
  const beneath = voice?.beneath; // only on a page that is served
  for (const one of active) {
    one.fader.to(one === voice ? level : 0, when, seconds);
    if (one !== voice && one !== beneath) one.source.stop(when + seconds + CHANGE);
  }
  if (beneath) comeUpAgain(voice, beneath);
}

/** True once the sound output runs; says what can be done where it does not. */
async function opened() {
  if (!context) {
    context = new AudioContext({ sampleRate: rate });
    volume = context.createGain();
    volume.gain.value = 0; // no louder than asked for, not for an instant
    volume.connect(context.destination);
    dip = new Fader(context, 1);
    dip.node.connect(volume);
    setVolume();
  }
  const running = await Promise.race([context.resume().then(() => true), wait(PATIENCE)]);
  if (!running) {
    say(
      "The browser opens no sound output. Connect headphones or loudspeakers, choose them in the system’s sound settings, " +
        "see that this page is not muted, then press Play again.",
    );
  }
  return Boolean(running);
}

/** Starts a version, silent, at one of its frames. */
function begun(n, frame, when) {
  const part = take(context, buffers[n], version(n), ...span);
  const inside = frame >= part.a && frame < part.b ? frame : part.a;
  const [started] = startInStep(context, [part], [inside], when, $("round").checked, () => dip.node);
  return started;
}

/** Plays from a place in bars. */
async function play(from = place) {
  if (!buffers[sounding]) say("Loading.");
  try {
    await sound(sounding);
  } catch {
    return say(CAN_NOT);
  }
  if (!(await opened())) return;
  const when = soon();
  voice = begun(sounding, inFrames(version(sounding), from), when);
  balance(when, CHANGE);
  show();
}

function stop(ended = false) {
  if (!voice) return;
  place = ended ? span[0] : placeNow();
  voice = null;
  balance(soon(), CHANGE);
  show();
}

/** Lets another version sound, at the same place; one that is not decoded yet as soon as it is. */
function choose(next) {
  wanted = next;
  if (!buffers[next]) {
    say(`Loading ${called(next)}.`);
    sound(next).then(() => wanted === next && choose(next), () => say(CAN_NOT));
    return;
  }
  sound(next); // it was used just now
  const before = sounding;
  sounding = next;
  if (voice && (blind || before !== next)) {
    const when = soon();
    active.forEach((one) => one.fader.hold(when)); // a blind change that has not come yet does not come any more
    const [moment, seconds] = blind ? [silence(when), 0] : [when, CHANGE];
    if (before !== next) {
      const [old, fresh] = [version(before), version(next)];
      const frame = frameAt(voice, moment);
      voice = begun(next, sameGrid(old, fresh) ? Math.round(frame) : inFrames(fresh, inBars(old, frame)), moment);
    }
    balance(moment, seconds);
  }
  show();
}

/**
 * Dips all that sounds to silence from a moment on; the moment in the middle of the silence. A blind change falls into it, so
 * every one has the same curve, whatever is chosen: the ear shall not learn from the change itself what it was.
 */
function silence(when) {
  const slope = (CHANGE - SILENT) / 2;
  dip.to(0, when, slope);
  dip.to(1, when + slope + SILENT, slope);
  return onGrid(when + CHANGE / 2);
}

/** Goes to a place in bars; out of the stretch that plays, if it lies outside of it. */
function goTo(bar) {
  place = Math.min(LAST, Math.max(bar, inBars(versions[0], 0)));
  if (place < span[0] || place >= span[1]) span = [0, LAST + 1];
  if (voice) play(place);
  else show();
}

/** Plays a stretch of bars from now on. */
function setSpan(first, end) {
  span = [first, end];
  const now = placeNow();
  const outside = now < first || now >= end;
  if (voice) play(outside ? first : now);
  else if (outside) place = first;
  show();
}

function setVolume() {
  const db = Number($("volume").value);
  $("volume-db").value = db <= OFF ? "off" : `${db}`.replace("-", "−") + " dB";
  if (volume) volume.gain.setTargetAtTime(db <= OFF ? 0 : 10 ** (db / 20), context.currentTime, 0.02);
}
