package fit

import (
	"cmp"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"onward/compose/critic"
	"onward/compose/tune"
)

// A judge's terms at most, and half of ridge times the squared weights is added to the loss.
// Both are hand-set, as in the prototype.
const (
	criticTerms = 60
	ridge       = 10
)

// criticFolds is how many parts the tunes are cut into for cross-validation.
const criticFolds = 5

// Critic learns to tell real tunes from generated ones: logistic regression with a ridge on
// the features that differ most between them, both sides counting alike. Its notes say how
// many tunes there were and how well what had not seen a tune's melody told its side. It
// fails unless there are ten of each side.
func Critic(kind, meter string, real, generated []*tune.Tune) (*critic.Critic, error) {
	if min(len(real), len(generated)) < 10 {
		return nil, fmt.Errorf("%s %s: %d real and %d generated tunes are too few to tell apart: bring ten of each", kind, meter, len(real), len(generated))
	}
	all := samplesOf(real, generated)
	c, err := learnCritic(all)
	if err != nil {
		return nil, fmt.Errorf("%s %s: %w", kind, meter, err)
	}
	var scores []scored
	for fold := range uint32(criticFolds) {
		var train, test []sample
		for _, s := range all {
			if s.fold == fold {
				test = append(test, s)
			} else {
				train = append(train, s)
			}
		}
		without, err := learnCritic(train)
		if err != nil {
			return nil, fmt.Errorf("%s %s, part %d: %w", kind, meter, fold, err)
		}
		for _, s := range test {
			scores = append(scores, scored{without.Score(s.tune), s.real})
		}
	}
	c.Kind, c.Meter = kind, meter
	c.Notes = []string{fmt.Sprintf("%d real tunes, %d generated ones; AUC %.3f, cross-validated by melody", len(real), len(generated), auc(scores))}
	return c, nil
}

// A sample is a tune with its features and the part of the cross-validation that it is in.
type sample struct {
	tune   *tune.Tune
	values []float64
	real   bool
	fold   uint32
}

func samplesOf(real, generated []*tune.Tune) []sample {
	var all []sample
	for i, tunes := range [][]*tune.Tune{real, generated} {
		for k, t := range tunes {
			name := t.Name
			if name == "" {
				name = fmt.Sprint(k)
			}
			h := fnv.New32a()
			h.Write([]byte(name))
			all = append(all, sample{t, critic.Features(t), i == 0, h.Sum32() % criticFolds})
		}
	}
	return all
}

// learnCritic chooses features and fits their weights.
func learnCritic(all []sample) (*critic.Critic, error) {
	realOnes := 0
	for _, s := range all {
		if s.real {
			realOnes++
		}
	}
	if realOnes == 0 || realOnes == len(all) {
		return nil, errors.New("one side has no tunes")
	}
	terms := chooseTerms(all)
	if len(terms) == 0 {
		return nil, errors.New("no feature differs")
	}
	n := len(terms) + 1 // the last is the bias
	x := mat.NewDense(len(all), n, nil)
	target, weight := make([]float64, len(all)), make([]float64, len(all))
	for i, s := range all {
		for k, t := range terms {
			x.Set(i, k, (s.values[t.Feature]-t.Mean)/t.Spread)
		}
		x.Set(i, n-1, 1)
		weight[i] = float64(len(all)) / float64(2*(len(all)-realOnes))
		if s.real {
			target[i], weight[i] = 1, float64(len(all))/float64(2*realOnes)
		}
	}
	found, err := logistic(x, target, weight)
	if err != nil {
		return nil, err
	}
	for k := range terms {
		terms[k].Weight = round4(found[k])
	}
	return &critic.Critic{Bias: round4(found[n-1]), Terms: terms}, nil
}

// round4 rounds as a data file does, so that a critic is the same when it is read again.
func round4(x float64) float64 { return math.Round(x*1e4) / 1e4 }

// chooseTerms reports the features with the largest F value of both sides' means: the variance
// between the sides over that within them. The most telling comes first.
func chooseTerms(all []sample) []critic.Term {
	type telling struct {
		critic.Term
		f float64
	}
	var found []telling
	for k, name := range critic.Names() {
		if settled(name) {
			continue
		}
		var n, sum, squares [2]float64
		for _, s := range all {
			side := 0
			if s.real {
				side = 1
			}
			n[side]++
			sum[side] += s.values[k]
			squares[side] += s.values[k] * s.values[k]
		}
		total := n[0] + n[1]
		mean := (sum[0] + sum[1]) / total
		within := squares[0] - sum[0]*sum[0]/n[0] + squares[1] - sum[1]*sum[1]/n[1]
		between := n[0]*math.Pow(sum[0]/n[0]-mean, 2) + n[1]*math.Pow(sum[1]/n[1]-mean, 2)
		spread := round4(math.Sqrt((within + between) / total))
		if spread > 0 {
			f := between / max(within, 1e-9) * (total - 2)
			found = append(found, telling{critic.Term{Feature: k, Mean: round4(mean), Spread: spread}, f})
		}
	}
	slices.SortStableFunc(found, func(a, b telling) int { return cmp.Compare(b.f, a.f) })
	var terms []critic.Term
	for _, t := range found[:min(criticTerms, len(found))] {
		terms = append(terms, t.Term)
	}
	return terms
}

// settled reports whether a feature is of the close, which is drawn ahead of the rest: on a long
// tonic, where real tunes may go on. No choice among melodies can change it.
func settled(name string) bool {
	return strings.HasPrefix(name, "cadence.measure 16") || strings.HasPrefix(name, "cadence.last note") || strings.HasPrefix(name, "cadence.last degree")
}

// logistic fits weights of the columns of x by Newton's method, the last without a ridge.
func logistic(x *mat.Dense, target, weight []float64) ([]float64, error) {
	rows, n := x.Dims()
	found := mat.NewVecDense(n, nil)
	for range 50 {
		grad, curve := mat.NewVecDense(n, nil), mat.NewSymDense(n, nil)
		for k := range n - 1 {
			grad.SetVec(k, -ridge*found.AtVec(k))
			curve.SetSym(k, k, ridge)
		}
		curve.SetSym(n-1, n-1, 1e-6)
		for i := range rows {
			row := x.RowView(i)
			p := 1 / (1 + math.Exp(-mat.Dot(row, found)))
			grad.AddScaledVec(grad, weight[i]*(target[i]-p), row)
			curve.SymRankOne(curve, weight[i]*p*(1-p), row)
		}
		var chol mat.Cholesky
		if !chol.Factorize(curve) {
			return nil, errors.New("the weights cannot be settled: too many features are alike")
		}
		var step mat.VecDense
		if err := chol.SolveVecTo(&step, grad); err != nil {
			return nil, fmt.Errorf("the weights cannot be settled: %w", err)
		}
		found.AddVec(found, &step)
		if mat.Norm(&step, 2) < 1e-8 {
			break
		}
	}
	return found.RawVector().Data, nil
}

// A scored tune is what a critic said of it, and whether it is real.
type scored struct {
	score float64
	real  bool
}

// auc reports the chance that a real tune has a higher score than a generated one: 0.5 where
// the scores tell nothing, 1 where they always tell.
func auc(all []scored) float64 {
	won, pairs := 0.0, 0
	for _, a := range all {
		for _, b := range all {
			if !a.real || b.real {
				continue
			}
			pairs++
			switch {
			case a.score > b.score:
				won++
			case a.score == b.score:
				won += .5
			}
		}
	}
	return won / float64(pairs)
}
