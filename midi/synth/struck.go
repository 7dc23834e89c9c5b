package synth

// struck is what is hit or plucked at a pitch. Ratios of bars and of the kettle are
// those of a free bar (1, 2.76, 5.40, 8.93) and of a tuned membrane (1, 1.50, 1.98,
// 2.44), from memory of handbooks; all else was set by measuring and comparing.
var struck = []strike{
	{
		name: "Piano", programs: []int{0, 1, 2, 3, 4, 5, 6, 7}, roots: []int{30, 41, 51, 60, 69, 79, 91},
		shape: envelope{below: -2, above: -7, knee: 700}, stiff: 0.0003, place: 0.125,
		ring: 9, ringTilt: 0.55, damp: 1.1, prompt: 0.55, knock: knock{-13, 900, 0.07},
		open: 6000, release: 0.28, attack: 0.002,
	},
	{
		name: "Glockenspiel", programs: []int{8, 9, 10, 11, 12, 13, 14, 15}, roots: []int{67, 79, 91, 103},
		shape: envelope{below: -3, above: -7, knee: 2500}, ratios: []float64{1, 2.756, 5.404, 8.933},
		ring: 2.2, ringTilt: 0.5, damp: 1.2, prompt: 0.2, knock: knock{-16, 7000, 0.012},
		open: 14000, release: 1.4, attack: 0.001, level: -3,
	},
	{
		name: "Guitar", programs: []int{24, 25, 26, 27, 28, 29, 30, 31, 104, 105, 106, 107}, roots: []int{43, 55, 67},
		shape: envelope{below: -2, above: -9, knee: 900}, stiff: 0.00005, place: 0.19,
		ring: 4, ringTilt: 0.4, damp: 1.8, prompt: 0.3, knock: knock{-20, 2500, 0.02},
		open: 6000, release: 0.25, attack: 0.002,
	},
	{
		name: "Plucked Bass", programs: []int{32, 33, 34, 35, 36, 37, 38, 39}, roots: []int{28, 36, 44, 53},
		shape: envelope{below: -2, above: -11, knee: 260, formants: []formant{{110, 4, 0.6}}}, stiff: 0.0001, place: 0.3,
		ring: 3.2, ringTilt: 0.4, damp: 4, prompt: 0.4, knock: knock{-20, 1200, 0.03},
		open: 3000, release: 0.22, attack: 0.004,
	},
	{
		name: "Harp", programs: []int{45, 46}, roots: []int{34, 47, 59, 71, 84},
		shape: envelope{below: -2, above: -10, knee: 600}, stiff: 0.00003, place: 0.36,
		ring: 4.5, ringTilt: 0.6, damp: 2.2, prompt: 0.35, knock: knock{-24, 2500, 0.02},
		open: 7500, release: 1.1, attack: 0.002,
	},
	{
		name: "Timpani", programs: []int{47}, roots: []int{38, 45, 52},
		shape:  envelope{below: -3, above: -8, knee: 160},
		ratios: []float64{1, 1.5, 1.98, 2.44, 2.94}, ring: 1.9, ringTilt: 0.3, damp: 6, prompt: 0.4,
		knock: knock{-8, 500, 0.06}, open: 2600, release: 1.2, attack: 0.002,
	},
}
