// The sound of a trial as it comes from the server that the page is from.

/** The sound of a trial as it comes: a line of JSON, then stretches, each channel's samples one after another. */
class Arriving {
  constructor(body) {
    this.reader = body.getReader();
    this.rest = new Uint8Array(0); // what has come and was not taken yet
  }

  async more() {
    const { done, value } = await this.reader.read();
    if (done) throw new Error("a trial breaks off");
    this.rest = value;
  }

  async line() {
    let text = "";
    const decoder = new TextDecoder();
    for (;;) {
      const end = this.rest.indexOf(10);
      text += decoder.decode(this.rest.subarray(0, end < 0 ? this.rest.length : end), { stream: true });
      if (end >= 0) {
        this.rest = this.rest.subarray(end + 1);
        return JSON.parse(text);
      }
      await this.more();
    }
  }

  /** So many frames of so many channels; nothing where they are not wanted any more. */
  async sound(channels, length, dropped = () => false) {
    const buffer = new AudioBuffer({ length, numberOfChannels: channels, sampleRate: rate });
    for (let channel = 0; channel < channels; channel++) {
      const samples = buffer.getChannelData(channel);
      const bytes = new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength);
      for (let at = 0; at < bytes.length; ) {
        if (dropped()) {
          this.reader.cancel();
          return null;
        }
        if (!this.rest.length) await this.more();
        const part = this.rest.subarray(0, bytes.length - at);
        bytes.set(part, at);
        at += part.length;
        this.rest = this.rest.subarray(part.length);
      }
    }
    return buffer;
  }
}
