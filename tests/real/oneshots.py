"""Takes recorded one-shots out of Debian's timgm6mb-soundfont and writes them as WAVs, named as a sample maker would."""

import logging
import sys
from pathlib import Path

import numpy
import soundfile
import soxr
from sf2utils.sf2parse import Sf2File

SOUNDFONT = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")

# File name, General MIDI percussion key, rate, coding, seconds it rings where the soundfont loops it (0: as recorded).
# The rates, codings and names differ on purpose: a folder of one-shots on a real disk is not tidy.
DRUMS = [
    ("Kick 1.wav", 36, 44100, "PCM_24", 0),
    ("snare_01.wav", 38, 44100, "PCM_16", 0),
    ("snare_02.wav", 40, 44100, "PCM_16", 0),
    ("Side Stick.wav", 37, 44100, "PCM_16", 0),
    ("CLAP.wav", 39, 44100, "PCM_16", 0),
    ("Closed Hat.wav", 42, 44100, "PCM_16", 0),
    ("Pedal Hat.wav", 44, 44100, "PCM_16", 0),
    ("Open Hat.wav", 46, 22050, "PCM_16", 0.9),
    ("Floor Tom.wav", 41, 22050, "PCM_16", 0.9),
    ("Low Tom.wav", 45, 22050, "PCM_16", 0.8),
    ("Mid Tom.wav", 47, 22050, "PCM_16", 0.7),
    ("High Tom.wav", 50, 22050, "PCM_16", 0.6),
    ("Crash 1.wav", 49, 22050, "PCM_16", 2.5),
    ("China.wav", 52, 22050, "PCM_16", 1.5),
    ("Ride.wav", 51, 48000, "FLOAT", 2.0),
    ("Ride Bell.wav", 53, 48000, "FLOAT", 1.5),
    ("Tambourine.wav", 54, 44100, "PCM_16", 0.3),
    ("Cowbell.wav", 56, 44100, "PCM_16", 0.3),
    ("Shaker.wav", 82, 44100, "PCM_16", 0),
    ("bongo high.wav", 60, 44100, "PCM_16", 0),
    ("bongo low.wav", 61, 44100, "PCM_16", 0.3),
    ("Conga Mute.wav", 62, 96000, "PCM_24", 0),
    ("Conga Open.wav", 63, 96000, "PCM_24", 0.5),
    ("Conga Low.wav", 64, 96000, "PCM_24", 0.5),
    ("timbale-high.wav", 65, 44100, "PCM_16", 0.5),
    ("timbale-low.wav", 66, 44100, "PCM_16", 0.5),
    ("Agogo High.wav", 67, 44100, "PCM_16", 0.4),
    ("Agogo Low.wav", 68, 44100, "PCM_16", 0.4),
    ("Cabasa.wav", 69, 44100, "PCM_16", 0),
    ("Maracas.wav", 70, 44100, "PCM_16", 0),
    ("Guiro.wav", 73, 44100, "PCM_16", 0),
    ("Claves.wav", 75, 44100, "PCM_16", 0),
    ("Woodblock High.wav", 76, 44100, "PCM_16", 0),
    ("Woodblock Low.wav", 77, 44100, "PCM_16", 0),
    ("Triangle Mute.wav", 80, 44100, "PCM_16", 0),
    ("Triangle Open.wav", 81, 44100, "PCM_16", 1.2),
]

# File name, preset of bank 0, MIDI note, seconds it rings.
NOTES = [
    ("Bass.wav", 32, 36, 1.6),
    ("Piano.wav", 0, 60, 2.5),
    ("Organ.wav", 16, 60, 0),
    ("Vibraphone.wav", 11, 60, 2.5),
]
NOTE_RATE = 44100
ORGAN_SECONDS = 3.0


def zone_of(preset, key):
    """The zone of a preset that sounds at a key: its sample and the key, cents included, at which it sounds as recorded."""
    for bag in preset.bags:
        if not bag.instrument:
            continue
        for zone in bag.instrument.bags:
            if zone.sample and (not zone.key_range or zone.key_range[0] <= key <= zone.key_range[1]):
                root = zone.base_note if zone.base_note is not None else zone.sample.original_pitch
                return zone.sample, root - (zone.fine_tuning or zone.sample.pitch_correction) / 100
    raise SystemExit(f"{preset.name} has nothing at key {key}")


def one_shot(sample, root, key, rate, rings):
    """The sample as it sounds at `key`; where it `rings`, its loop goes on under a decay of 60 dB."""
    sound = numpy.frombuffer(sample.raw_sample_data, dtype="<i2").astype(float) / 32768
    if rings:
        speed = sample.sample_rate * 2 ** ((key - root) / 12)
        wanted = int(rings * speed)
        start, end = sample.start_loop, sample.end_loop
        turns = max(0, -(-(wanted - end) // (end - start)))
        sound = numpy.concatenate([sound[:end], numpy.tile(sound[start:end], turns)])[:wanted]
        sound = sound * 10 ** (-3 * numpy.arange(len(sound)) / wanted)
    sound = soxr.resample(sound, sample.sample_rate * 2 ** ((key - root) / 12), rate, "VHQ")
    fade = min(len(sound), rate // 200)
    sound[-fade:] *= numpy.linspace(1, 0, fade)
    return 0.9 * sound / numpy.abs(sound).max()


def write_kit(folder):
    """Writes every one-shot, and no kit.toml: the file names have to tell."""
    logging.disable(logging.CRITICAL)  # sf2utils warns of every oddity of the soundfont
    folder.mkdir(parents=True, exist_ok=True)
    with SOUNDFONT.open("rb") as file:
        presets = {(p.bank, p.preset): p for p in Sf2File(file).presets if p.name != "EOP"}
        for name, key, rate, coding, rings in DRUMS:
            sample, root = zone_of(presets[128, 0], key)
            sound = one_shot(sample, root, key, rate, rings)
            soundfile.write(folder / name, sound, rate, subtype=coding)
        for name, preset, key, rings in NOTES:
            sample, root = zone_of(presets[0, preset], key)
            sound = one_shot(sample, root, key, NOTE_RATE, rings or ORGAN_SECONDS)
            soundfile.write(folder / name, sound, NOTE_RATE, subtype="PCM_16")
    return [name for name, *_ in DRUMS + NOTES]


if __name__ == "__main__":
    print(len(write_kit(Path(sys.argv[1]))), "one-shots")
