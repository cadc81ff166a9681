// Has the page play into a clock that a test moves on by hand, before the page runs: the same page, the same browser's
// arithmetic, and every sample that the loudspeakers would get. Versions are constant signals, and chance is seeded.
(() => {
  const LONGEST = 240; // seconds
  const QUANTUM = 128; // frames that a browser computes at a time (Web Audio API, "render quantum size")
  let context, tap, running;
  let frame = 0;

  const { connect } = AudioNode.prototype;
  AudioNode.prototype.connect = function (to, ...rest) {
    if (to !== context?.destination) return connect.call(this, to, ...rest);
    tap = context.createAnalyser();
    tap.fftSize = 32768; // the most that it remembers
    connect.call(this, tap);
    return connect.call(tap, to);
  };

  window.AudioContext = function ({ sampleRate }) {
    context = new OfflineAudioContext(1, LONGEST * sampleRate, sampleRate);
    context.resume = async () => {}; // it goes on by `go` alone
    return context;
  };

  const resume = () => OfflineAudioContext.prototype.resume.call(context);

  /** Lets so many quanta pass; what was heard meanwhile. */
  window.go = async (quanta) => {
    await new Promise((done) => setTimeout(done)); // what the page has begun by a promise is done first
    frame += quanta * QUANTUM;
    const arrived = context.suspend(frame / context.sampleRate);
    if (running) resume();
    else context.startRendering();
    running = true;
    await arrived;
    const heard = new Float32Array(tap.fftSize);
    tap.getFloatTimeDomainData(heard);
    return heard.slice(-quanta * QUANTUM);
  };

  /** Makes each version a constant signal of its own level, at full volume. */
  window.level = async (levels) => {
    const buffers = await listening.decoded;
    buffers.forEach((buffer, n) => {
      for (let channel = 0; channel < buffer.numberOfChannels; channel++) buffer.getChannelData(channel).fill(levels[n]);
    });
    const volume = document.getElementById("volume");
    volume.value = 0;
    volume.dispatchEvent(new Event("input"));
  };

  // xorshift32 (G. Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8(14), 2003).
  let state = 20031;
  window.draw = () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>>= 0);
  };
  crypto.getRandomValues = (array) => array.map(draw).map((number, n) => (array[n] = number));
})();
