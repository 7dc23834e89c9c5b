package synth

import (
	"math"

	"github.com/sinshu/go-meltysynth/meltysynth"
)

// A sound is what a program plays: its regions, of which a note starts each that
// holds its key and velocity.
type sound struct{ regions []region }

// A region is one zone of a sound font, preset and instrument taken together, in the
// units that a voice works in.
type region struct {
	lowKey, highKey           int32
	lowVelocity, highVelocity int32

	data               []int16 // the wave, and one sample more
	end                int64   // samples of the wave; loopEnd is within it
	loopStart, loopEnd int64
	loops              bool
	loopsHeld          bool // the loop ends with the note
	rate               float64
	root               float64 // key at which it sounds as recorded
	tune               float64 // semitones
	scale              float64 // semitones to a key

	dB        float64 // at full velocity
	cutoff    float64 // Hz
	resonance float64 // of the filter, as a ratio
	pan       float64 // -50 left to 50 right
	exclusive int32

	volume, mod       stages
	vibrato, lfo      swing
	vibratoToPitch    float64 // semitones
	modToPitch        float64
	lfoToPitch        float64
	modToCutoff       float64 // cents
	lfoToCutoff       float64
	lfoToVolume       float64 // dB
	holdKey, decayKey float64 // timecents a key by which the volume's stages change
	modHoldKey        float64
	modDecayKey       float64
}

// stages are an envelope's, in seconds; sustain is a level from 0 to 1.
type stages struct{ delay, attack, hold, decay, sustain, release float64 }

// A swing is a slow triangular oscillation.
type swing struct{ delay, hz float64 }

// holds reports whether the region plays a note.
func (r *region) holds(key, velocity int32) bool {
	return r.lowKey <= key && key <= r.highKey && r.lowVelocity <= velocity && velocity <= r.highVelocity
}

// regionOf takes a preset's zone and an instrument's together: their generators add
// up (SoundFont 2.01, section 9.4), which for times and frequencies is a product. Of
// the attenuation two fifths are used, as most players do whose ear is that of the
// first hardware (meltysynth says so too). data is filled by the caller.
func regionOf(p *meltysynth.PresetRegion, i *meltysynth.InstrumentRegion) region {
	f := func(v float32) float64 { return float64(v) }
	r := region{
		lowKey: max(p.GetKeyRangeStart(), i.GetKeyRangeStart()), highKey: min(p.GetKeyRangeEnd(), i.GetKeyRangeEnd()),
		lowVelocity:  max(p.GetVelocityRangeStart(), i.GetVelocityRangeStart()),
		highVelocity: min(p.GetVelocityRangeEnd(), i.GetVelocityRangeEnd()),

		loops: i.GetSampleModes() == 1 || i.GetSampleModes() == 3, loopsHeld: i.GetSampleModes() == 3,
		rate: float64(i.Sample.SampleRate), root: float64(i.GetRootKey()),
		tune:  float64(p.GetCoarseTune()+i.GetCoarseTune()) + 0.01*float64(p.GetFineTune()+i.GetFineTune()),
		scale: 0.01 * float64(p.GetScaleTuning()+i.GetScaleTuning()),

		cutoff: f(p.GetInitialFilterCutoffFrequency()) * f(i.GetInitialFilterCutoffFrequency()),
		pan:    f(p.GetPan() + i.GetPan()), exclusive: i.GetExclusiveClass(),

		volume: stages{
			wait(f(p.GetDelayVolumeEnvelope()) * f(i.GetDelayVolumeEnvelope())),
			f(p.GetAttackVolumeEnvelope()) * f(i.GetAttackVolumeEnvelope()),
			f(p.GetHoldVolumeEnvelope()) * f(i.GetHoldVolumeEnvelope()),
			f(p.GetDecayVolumeEnvelope()) * f(i.GetDecayVolumeEnvelope()),
			amplitude(-f(p.GetSustainVolumeEnvelope() + i.GetSustainVolumeEnvelope())),
			max(f(p.GetReleaseVolumeEnvelope())*f(i.GetReleaseVolumeEnvelope()), 0.01), // shorter would pop
		},
		mod: stages{
			f(p.GetDelayModulationEnvelope()) * f(i.GetDelayModulationEnvelope()),
			f(p.GetAttackModulationEnvelope()) * f(i.GetAttackModulationEnvelope()),
			f(p.GetHoldModulationEnvelope()) * f(i.GetHoldModulationEnvelope()),
			f(p.GetDecayModulationEnvelope()) * f(i.GetDecayModulationEnvelope()),
			1 - f(p.GetSustainModulationEnvelope()+i.GetSustainModulationEnvelope())/100,
			f(p.GetReleaseModulationEnvelope()) * f(i.GetReleaseModulationEnvelope()),
		},
		holdKey:     float64(p.GetKeyNumberToVolumeEnvelopeHold() + i.GetKeyNumberToVolumeEnvelopeHold()),
		decayKey:    float64(p.GetKeyNumberToVolumeEnvelopeDecay() + i.GetKeyNumberToVolumeEnvelopeDecay()),
		modHoldKey:  float64(p.GetKeyNumberToModulationEnvelopeHold() + i.GetKeyNumberToModulationEnvelopeHold()),
		modDecayKey: float64(p.GetKeyNumberToModulationEnvelopeDecay() + i.GetKeyNumberToModulationEnvelopeDecay()),

		vibrato:        swing{f(p.GetDelayVibratoLfo()) * f(i.GetDelayVibratoLfo()), f(p.GetFrequencyVibratoLfo()) * f(i.GetFrequencyVibratoLfo())},
		lfo:            swing{f(p.GetDelayModulationLfo()) * f(i.GetDelayModulationLfo()), f(p.GetFrequencyModulationLfo()) * f(i.GetFrequencyModulationLfo())},
		vibratoToPitch: 0.01 * float64(p.GetVibratoLfoToPitch()+i.GetVibratoLfoToPitch()),
		modToPitch:     0.01 * float64(p.GetModulationEnvelopeToPitch()+i.GetModulationEnvelopeToPitch()),
		lfoToPitch:     0.01 * float64(p.GetModulationLfoToPitch()+i.GetModulationLfoToPitch()),
		modToCutoff:    float64(p.GetModulationEnvelopeToFilterCutoffFrequency() + i.GetModulationEnvelopeToFilterCutoffFrequency()),
		lfoToCutoff:    float64(p.GetModulationLfoToFilterCutoffFrequency() + i.GetModulationLfoToFilterCutoffFrequency()),
		lfoToVolume:    f(p.GetModulationLfoToVolume() + i.GetModulationLfoToVolume()),
	}
	// Within the format's own bounds, which a broken font may not keep to.
	peak := min(max(f(p.GetInitialFilterQ()+i.GetInitialFilterQ()), 0), 96)
	r.resonance = amplitude(peak)
	r.dB = min(-0.4*f(p.GetInitialAttenuation()+i.GetInitialAttenuation()), 0) - 0.5*peak
	return r
}

// wait reports a delay in seconds; the shortest that the format can name, a
// millisecond, stands for none (SoundFont 2.01, section 8.1.3).
func wait(seconds float64) float64 {
	if seconds < 0.001 {
		return 0
	}
	return seconds
}

// timecentsRatio reports the ratio of times that so many timecents are.
func timecentsRatio(t float64) float64 { return math.Exp2(t / 1200) }
