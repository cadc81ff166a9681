// Time and sound: all versions run in step on one clock, one of them is heard.

const $ = (id) => document.getElementById(id);
const all = (selector) => [...document.querySelectorAll(selector)];
const told = JSON.parse($("told").textContent);
const { rate, versions } = told;
const CHANGE = 0.01; // seconds in which one version gives way to another
const SILENT = 0.001; // seconds of silence in the middle of a blind change
const PENDING = 100; // lines of a fader that are remembered: more than any hand sets out within LEAD and CHANGE
const LEAD = 0.03; // seconds between a command and the sound, so that all of it can be set out in time
const OFF = -60; // dB at which the volume is off
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

/** A place in bars as a frame of a version. */
function inFrames(version, place) {
  const bar = Math.min(LAST, Math.max(0, Math.floor(place)));
  const frame = start(version, bar) + (place - bar) * (start(version, bar + 1) - start(version, bar));
  return Math.min(version.frames - 1, Math.max(0, Math.round(frame)));
}

const sameGrid = (a, b) => a.frames === b.frames && a.end === b.end && a.starts.every((at, n) => at === b.starts[n]);

// ---- Sound ---------------------------------------------------------------------------------------------------------

function bytes(text) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
  const raw = atob(text);
  const out = new Uint8Array(raw.length);
  for (let n = 0; n < raw.length; n++) out[n] = raw.charCodeAt(n);
  return out;
}

/** Every version's sound as it is stored: in the page, or on the server that the page is from. */
async function stored() {
  if ($("served")) return fetched(); // served.js, which no page from disk has
  return all(".sound").map((store) => bytes(store.textContent).buffer);
}

/** Sounds, decoded at the page's own rate, so that a frame stays a frame whatever the device runs at. */
async function decode(sounds) {
  const context = new OfflineAudioContext(2, 1, rate);
  return Promise.all(sounds.map((sound) => context.decodeAudioData(sound)));
}

/** What is played: a version's whole buffer, or some bars of it whose end runs smoothly into their beginning. */
function take(context, buffer, version, from, to) {
  const [a, b] = from === 0 && to === LAST ? [0, version.frames] : [start(version, from), start(version, to + 1)];
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
      const leads = before >= 0 ? whole[before] : told.repeats ? whole[buffer.length + before] : 0;
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
    const voice = { source, fader, take, frame: frames[n], when };
    active.add(voice);
    source.onended = () => {
      active.delete(voice);
      if (voices?.[sounding] === voice) stop(true);
    };
    return voice;
  });
}

let context, volume, dip, buffers, voices;
let sounding = 0; // which version
let place = inBars(versions[0], 0); // where it begins when it is played
let blind = null; // the blind test that is under way
let asked = 0; // the next moment to show
const decoded = stored().then(decode).then(
  (list) => (buffers = list),
  () => say("This browser can't read the page's sound; a newer browser plays it."),
);

const onGrid = (seconds) => Math.ceil(seconds * rate - 1e-3) / rate; // a sum's last bits shall not cost a frame
const soon = () => onGrid(context.currentTime + LEAD);
const bounds = () => [Number($("from").value), Number($("to").value)];

/** The frame at which a voice is at a moment. */
function frameAt(voice, moment) {
  const { a, b } = voice.take;
  const frame = voice.frame + Math.max(0, moment - voice.when) * rate;
  return voice.source.loop ? a + ((frame - a) % (b - a)) : Math.min(frame, b);
}

const placeNow = () =>
  voices ? inBars(versions[sounding], frameAt(voices[sounding], context.currentTime)) : place;

/**
 * Lets the chosen voice be heard and no other; what has been replaced ends. All fade within the same time, so their gains never
 * come to more than 1 together.
 */
function balance(when, seconds) {
  for (const voice of active) {
    voice.fader.to(voice === voices?.[sounding] ? 1 : 0, when, seconds);
    if (!voices?.includes(voice)) voice.source.stop(when + seconds + CHANGE);
  }
}

/** Plays from a place in bars. */
async function play(from = place) {
  if (!context) {
    context = new AudioContext({ sampleRate: rate });
    volume = context.createGain();
    volume.gain.value = 0; // no louder than asked for, not for an instant
    volume.connect(context.destination);
    dip = new Fader(context, 1);
    dip.node.connect(volume);
    setVolume();
  }
  await Promise.all([context.resume(), decoded]);
  if (!buffers) return;
  const [first, last] = bounds();
  const round = $("round").checked;
  const takes = versions.map((version, n) => take(context, buffers[n], version, first, last));
  const frames = versions.map((version, n) => {
    const frame = inFrames(version, from);
    return frame >= takes[n].a && frame < takes[n].b ? frame : takes[n].a;
  });
  const when = soon();
  voices = startInStep(context, takes, frames, when, round, () => dip.node);
  balance(when, CHANGE);
  show();
}

function stop(ended = false) {
  if (!voices) return;
  place = ended ? bounds()[0] : placeNow();
  voices = null;
  balance(soon(), CHANGE);
  show();
}

/** Lets another version sound, at the same place. */
function choose(next) {
  const before = sounding;
  sounding = next;
  if (voices && (blind || before !== next)) {
    const when = soon();
    active.forEach((voice) => voice.fader.hold(when)); // a blind change that has not come yet does not come any more
    const [moment, seconds] = blind ? [silence(when), 0] : [when, CHANGE];
    const [old, fresh] = [versions[before], versions[next]];
    if (!sameGrid(old, fresh)) restart(next, inFrames(fresh, inBars(old, frameAt(voices[before], moment))), moment);
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

/** Starts one version anew, where its bars are of another length than those that sounded. */
function restart(n, frame, when) {
  const { take, source } = voices[n];
  const frame_in = frame >= take.a && frame < take.b ? frame : take.a;
  [voices[n]] = startInStep(context, [take], [frame_in], when, source.loop, () => dip.node);
}

/** Goes to a place in bars; out of the bars that repeat, if it lies outside of them. */
function goTo(bar) {
  const [first, last] = bounds();
  place = Math.min(LAST, Math.max(bar, inBars(versions[sounding], 0)));
  if (place < first || place >= last + 1) [$("from").value, $("to").value] = [0, LAST];
  if (voices) play(place);
  else show();
}

function setBounds(first, last) {
  $("from").value = Math.min(first, last);
  $("to").value = Math.max(first, last);
  const [from, to] = bounds();
  const now = Math.floor(placeNow());
  const outside = now < from || now > to;
  if (voices) play(outside ? from : placeNow());
  else if (outside) place = from;
  show();
}

function setVolume() {
  const db = Number($("volume").value);
  $("volume-db").value = db <= OFF ? "off" : `${db}`.replace("-", "−") + " dB";
  if (volume) volume.gain.setTargetAtTime(db <= OFF ? 0 : 10 ** (db / 20), context.currentTime, 0.02);
}
