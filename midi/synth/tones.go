package synth

// tones is the wind band and the bowed strings. The humps of the spectra lie where
// handbooks of instrument acoustics put the main formants (trumpet about 1.2 to 1.5
// kHz, trombone 0.5 to 0.6, horn 0.35, tuba 0.2 to 0.25, oboe 1.1, bassoon 0.5; from
// memory). All else was set by measuring and comparing.
var tones = []tone{
	{
		name: "Trumpet", programs: []int{56, 61, 62, 63}, roots: []int{56, 64, 72, 80},
		shape:   envelope{below: 1, above: -8, knee: 1700, formants: []formant{{1300, 5, 0.8}}},
		section: 0.10, spread: 2, breath: breath{44, 3000, 1.5},
		onset: onset{attack: 0.030, bloom: 1500, settle: 0.15, fall: 2, release: 0.24},
		open:  5400, darkens: 0.9, pan: -14, vibrato: vibrato{5, 5.2, 0.45},
	},
	{
		name: "Trombone", programs: []int{57}, roots: []int{41, 49, 57, 65},
		shape:   envelope{below: 1, above: -8, knee: 900, formants: []formant{{560, 5, 0.8}}},
		section: 0.10, spread: 2, breath: breath{44, 2000, 1.5},
		onset: onset{attack: 0.034, bloom: 1500, settle: 0.18, fall: 2, release: 0.26},
		open:  4400, darkens: 0.85, pan: 20, vibrato: vibrato{4, 5, 0.5},
	},
	{
		name: "Tuba", programs: []int{58}, roots: []int{28, 36, 43, 51},
		shape:   envelope{below: -2, above: -11, knee: 320, formants: []formant{{230, 4, 0.8}}},
		section: 0.06, spread: 2, breath: breath{44, 900, 1.5},
		onset: onset{attack: 0.034, bloom: 1300, settle: 0.18, fall: 3, release: 0.24},
		open:  1700, darkens: 0.85, pan: 12,
	},
	{
		name: "Muted Trumpet", programs: []int{59}, roots: []int{60, 70, 80},
		shape:   envelope{below: 4, above: -9, knee: 2400, formants: []formant{{1800, 5, 0.6}, {3600, 5, 0.4}}},
		section: 0.05, spread: 2, breath: breath{40, 4000, 1.5},
		onset: onset{attack: 0.032, bloom: 900, settle: 0.15, fall: 2, release: 0.2},
		open:  11500, darkens: 0.9, pan: -14, vibrato: vibrato{4, 5.2, 0.45},
	},
	{
		name: "Horns", programs: []int{60}, roots: []int{45, 53, 61, 69},
		shape:   envelope{below: -1, above: -10, knee: 620, formants: []formant{{350, 4, 0.8}}},
		section: 0.35, spread: 4, breath: breath{46, 1200, 1.5},
		onset: onset{attack: 0.034, bloom: 1400, settle: 0.18, fall: 2, release: 0.26},
		open:  2900, darkens: 0.8, pan: -10,
	},
	{
		name: "Alto Sax", programs: []int{64, 65}, roots: []int{53, 62, 71, 80},
		shape:   envelope{below: -1, above: -10, knee: 1300, formants: []formant{{700, 4, 0.5}, {2000, 4, 0.6}}},
		section: 0.12, spread: 3, breath: breath{36, 3500, 1.2},
		onset: onset{attack: 0.028, bloom: 1000, settle: 0.2, fall: 2, release: 0.22},
		open:  6000, darkens: 0.85, pan: 6, vibrato: vibrato{9, 5, 0.35},
	},
	{
		name: "Tenor Sax", programs: []int{66}, roots: []int{48, 57, 66, 75},
		shape:   envelope{below: -1, above: -10, knee: 1000, formants: []formant{{520, 4, 0.5}, {1500, 4, 0.6}}},
		section: 0.12, spread: 3, breath: breath{36, 3000, 1.2},
		onset: onset{attack: 0.030, bloom: 1000, settle: 0.2, fall: 2, release: 0.22},
		open:  5200, darkens: 0.85, pan: 10, vibrato: vibrato{9, 4.9, 0.35},
	},
	{
		name: "Baritone Sax", programs: []int{67}, roots: []int{40, 49, 58, 67},
		shape:   envelope{below: 0, above: -10, knee: 800, formants: []formant{{350, 4, 0.6}, {1100, 4, 0.6}}},
		section: 0.10, spread: 3, breath: breath{38, 2500, 1.2},
		onset: onset{attack: 0.034, bloom: 1000, settle: 0.2, fall: 2, release: 0.22},
		open:  4200, darkens: 0.85, pan: 14, vibrato: vibrato{6, 4.8, 0.4},
	},
	{
		name: "Oboe", programs: []int{68, 69}, roots: []int{62, 71, 80},
		shape:   envelope{below: 3, above: -12, knee: 1500, formants: []formant{{1100, 6, 0.5}, {2900, 5, 0.5}}},
		section: 0.06, spread: 2, breath: breath{40, 4000, 1.2},
		onset: onset{attack: 0.032, bloom: 700, settle: 0.2, fall: 1, release: 0.2},
		open:  7000, darkens: 0.75, pan: -4, vibrato: vibrato{9, 5.2, 0.3},
	},
	{
		name: "Bassoon", programs: []int{70}, roots: []int{40, 50, 60},
		shape:   envelope{below: 3, above: -12, knee: 650, formants: []formant{{480, 7, 0.5}, {1200, 4, 0.5}}},
		section: 0.06, spread: 2, breath: breath{42, 2500, 1.2},
		onset: onset{attack: 0.032, bloom: 700, settle: 0.2, fall: 1, release: 0.2},
		open:  3600, darkens: 0.75, pan: 8, vibrato: vibrato{6, 5, 0.4},
	},
	{
		name: "Clarinets", programs: []int{71}, roots: []int{53, 62, 70, 78, 87},
		shape:   envelope{below: -1, above: -13, knee: 1500, even: -22, formants: []formant{{1600, 4, 0.7}}},
		section: 0.10, spread: 3, breath: breath{42, 3500, 1.2},
		onset: onset{attack: 0.028, bloom: 800, settle: 0.2, fall: 1, release: 0.2},
		open:  6200, darkens: 0.75, pan: -22,
	},
	{
		name: "Piccolo", programs: []int{72}, roots: []int{78, 87, 96},
		shape:   envelope{below: -4, above: -17, knee: 1500},
		section: 0.02, spread: 3, breath: breath{32, 4500, 1},
		onset: onset{attack: 0.028, bloom: 600, settle: 0.2, fall: 1, release: 0.18},
		open:  9000, darkens: 0.7, pan: -10, vibrato: vibrato{7, 5.5, 0.3},
	},
	{
		name: "Flute", programs: []int{73, 74, 75, 76, 77, 78, 79}, roots: []int{64, 73, 82, 91},
		shape:   envelope{below: -3, above: -15, knee: 900, formants: []formant{{800, 3, 0.8}}},
		section: 0.12, spread: 3, breath: breath{30, 2600, 1.1},
		onset: onset{attack: 0.042, bloom: 700, settle: 0.2, fall: 1, release: 0.22},
		open:  5500, darkens: 0.7, pan: -8, vibrato: vibrato{9, 5, 0.3},
	},
	{
		name: "Strings", programs: []int{40, 41, 42, 44, 48, 49, 50, 51, 52, 53, 54, 55}, roots: []int{38, 47, 56, 64, 72, 81},
		shape:   envelope{below: -3, above: -9, knee: 1100, formants: []formant{{300, 3, 0.5}, {650, 2, 0.5}, {2600, 5, 0.7}}},
		section: 0.85, spread: 7, breath: breath{38, 4000, 1.5},
		onset: onset{attack: 0.090, bloom: 500, settle: 0.3, fall: 1, release: 0.4},
		open:  8500, darkens: 0.65, level: -3, long: true,
	},
	{
		name: "Contrabass", programs: []int{43}, roots: []int{30, 39, 48, 57},
		shape:   envelope{below: -2, above: -9, knee: 420, formants: []formant{{110, 4, 0.5}, {220, 3, 0.5}, {900, 3, 0.6}}},
		section: 0.6, spread: 5, breath: breath{38, 2000, 1.5},
		onset: onset{attack: 0.060, bloom: 500, settle: 0.3, fall: 1, release: 0.3},
		open:  2600, darkens: 0.65, pan: 16, level: -3,
	},
	{
		name: "Organ", programs: []int{16, 17, 18, 19, 20, 21, 22, 23}, roots: []int{36, 48, 60, 72, 84},
		shape:   envelope{below: -5, above: -10, knee: 700, formants: []formant{{1200, 2, 0.6}}},
		section: 0.2, spread: 3, breath: breath{44, 2000, 1.5},
		onset: onset{attack: 0.03, settle: 0.2, fall: 0.5, release: 0.2},
		open:  6000, darkens: 0.6,
	},
}
