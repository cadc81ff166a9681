// The difference of two versions, sample by sample: heard in place of a version, and drawn, both at the gain that is stated.

const COLUMNS = 900; // of a waveform, as those of the versions have

/** What one version has that another has not, and the gain at which it is neither louder nor cut: no peak above the versions' own. */
async function subtract(one, from, asked) {
  const [a, b] = [await sound(one), await sound(from)];
  const channels = Math.max(a.numberOfChannels, b.numberOfChannels);
  const out = new OfflineAudioContext(channels, 1, rate).createBuffer(channels, a.length, rate);
  const side = (buffer, channel) => buffer.getChannelData(Math.min(channel, buffer.numberOfChannels - 1));
  let peak = 0;
  for (let channel = 0; channel < channels; channel++) {
    const [more, less, rest] = [side(a, channel), side(b, channel), out.getChannelData(channel)];
    for (let n = 0; n < rest.length; n++) {
      rest[n] = more[n] - (less[n] ?? 0);
      peak = Math.max(peak, Math.abs(rest[n]));
    }
  }
  const most = peak > 0 ? 20 * Math.log10(told.loudest / peak) : Infinity;
  const gain = Math.min(asked, Math.floor(10 * most) / 10);
  const factor = 10 ** (gain / 20);
  for (let channel = 0; channel < channels; channel++) {
    const rest = out.getChannelData(channel);
    for (let n = 0; n < rest.length; n++) rest[n] *= factor;
  }
  return { buffer: out, gain, silent: peak === 0 };
}

/** The outline of a sound in a drawing of so many columns, 200 units high. */
function outline(buffer) {
  const upper = [];
  const lower = [];
  for (let column = 0; column < COLUMNS; column++) {
    let [low, high] = [0, 0];
    const from = Math.floor((column * buffer.length) / COLUMNS);
    const to = Math.max(from + 1, Math.floor(((column + 1) * buffer.length) / COLUMNS));
    for (let channel = 0; channel < buffer.numberOfChannels; channel++) {
      const samples = buffer.getChannelData(channel);
      for (let n = from; n < to; n++) {
        low = Math.min(low, samples[n]);
        high = Math.max(high, samples[n]);
      }
    }
    const y = (sample) => (100 - (100 * sample) / (told.loudest || 1)).toFixed(1);
    upper.push(`${column + 0.5} ${y(high)}`);
    lower.unshift(`${column + 0.5} ${y(low)}`);
  }
  return `M${[...upper, ...lower].join("L")}Z`;
}

let differing = 0; // counts what was asked for: only the last of it is shown

/** Makes the difference that is asked for, draws it, and lets it be heard where it is what plays. */
async function makeDifference() {
  const [one, from] = [Number($("minuend").value), Number($("subtrahend").value)];
  const asked = Number($("difference-gain").value);
  const turn = ++differing;
  const tell = (words) => ($("difference-told").textContent = words);
  const heard = sounding === DIFFERENCE;
  if (!sameGrid(versions[one], versions[from])) {
    tell("These two have bars of different lengths: they have no difference.");
    if (heard) choose(from);
    delete buffers[DIFFERENCE];
    return false;
  }
  tell("Loading.");
  const made = await subtract(one, from, asked);
  if (turn !== differing) return false;
  Object.assign(difference, versions[from], { name: `${called(one)}, less ${called(from)}`, setting: null });
  const playing = heard && voice ? placeNow() : null;
  buffers[DIFFERENCE] = made.buffer;
  document.querySelector("#difference .wave").setAttribute("d", outline(made.buffer));
  const gain = `${made.gain.toFixed(made.gain % 1 ? 1 : 0)} dB`.replace("-", "−");
  const limited = made.gain < asked ? "; more would be louder than the versions are" : "";
  tell(made.silent ? "None: they are the same." : `Drawn and heard with a gain of ${gain}${limited}.`);
  if (playing !== null) play(playing);
  else show();
  return true;
}

/** Lets the difference be heard. */
async function hearDifference() {
  if (!$("difference")) return;
  $("apart").open = true;
  if (buffers[DIFFERENCE] || (await makeDifference())) choose(DIFFERENCE);
}
