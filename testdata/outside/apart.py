#!/usr/bin/python3
"""apart.py FAMILY REAL [GENERATED]: how well can a judge tell generated melodies from real ones?

FAMILY: 2/4, 6/8, 4/4, 3/4. REAL: JSON lines; its held-back third is compared. GENERATED: a folder of MusicXML, or
JSON lines; without it the rest of REAL, which gives the floor. AUC 0.5: not at all; 1.0: always.

The judges are boosted trees and a linear one, cross-validated so that tunes of one melody are judged together by
what has seen none of them. Both sides are matched in density and mode. All is done three times with other folds and
other real tunes; the spread is the standard error over the tunes that there are, by bootstrap.
"""
import argparse, os, random, sys, warnings
sys.dont_write_bytecode = True
for threads in ('OMP_NUM_THREADS', 'OPENBLAS_NUM_THREADS'):    # more of them only wait for each other on what is so small
    os.environ.setdefault(threads, '1')
import numpy as np
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.feature_selection import SelectKBest, f_classif
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import StratifiedGroupKFold
from sklearn.pipeline import Pipeline
from sklearn.preprocessing import StandardScaler
import melodies
from features import GROUPS, features

ROUNDS = 3
LEAST = 15                                # tunes a side, below which nothing is said


def boosted(features):
    """Trees on the 120 features that differ most between the sides they are taught, so that it is quick."""
    trees = HistGradientBoostingClassifier(max_iter=80, learning_rate=.12, max_leaf_nodes=8, l2_regularization=1, random_state=0)
    return Pipeline([('choose', SelectKBest(f_classif, k=min(120, features))), ('judge', trees)])


def linear(_):
    return Pipeline([('scale', StandardScaler()), ('judge', LogisticRegression(C=.02, max_iter=500))])


def match(generated, real, rng, ratio):
    """Tunes of each side with the same spread of density and mode; what the other side lacks goes."""
    sides = {}, {}
    for side, tunes in zip(sides, (generated, real)):
        for tune in tunes:
            side.setdefault((int(tune.density * 4), tune.mode), []).append(tune)
    out = [], []
    for key in sorted(sides[0].keys() & sides[1].keys()):
        ours, theirs = (rng.sample(side[key], len(side[key])) for side in sides)
        out[0].extend(ours[:3 * len(theirs)])
        out[1].extend(theirs[:ratio * len(ours)])
    return out


def matrix(tunes):
    """(values, names) of the features that at least 3 % of the tunes have."""
    found = [features(tune) for tune in tunes]
    names = sorted({name for row in found for name in row})
    values = np.array([[row.get(name, 0) for name in names] for row in found], float)
    common = np.array([sum(name in row for row in found) >= .03 * len(found) for name in names])
    return values[:, common], [name for name, kept in zip(names, common) if kept]


def judge(make, values, is_real, group, seed):
    """For each tune the chance of being real, by a classifier that has not seen its melody."""
    out = np.zeros(len(is_real))
    for train, test in StratifiedGroupKFold(5, shuffle=True, random_state=seed).split(values, is_real, group):
        share = is_real[train].mean()
        weight = np.where(is_real[train], 1 - share, share)
        model = make(values.shape[1])
        with warnings.catch_warnings():
            warnings.simplefilter('ignore')
            model.fit(values[train], is_real[train], judge__sample_weight=weight)
        out[test] = model.predict_proba(values[test])[:, 1]
    return out


class Comparison:
    """One matching of both sides, and what the judges make of it."""

    def __init__(self, generated, real, ratio, seed):
        self.sides = match(generated, real, random.Random(seed), ratio)
        if min(map(len, self.sides)) < LEAST:
            sizes = ' and '.join(str(len(side)) for side in self.sides)
            raise SystemExit(f'too few tunes are left after matching: {sizes} of {len(generated)} and {len(real)}')
        both = self.sides[0] + self.sides[1]
        self.seed = seed
        self.values, self.names = matrix(both)
        self.is_real = np.array([0] * len(self.sides[0]) + [1] * len(self.sides[1]))
        self.group = np.unique([tune.id for tune in both], return_inverse=True)[1]

    def auc(self, make, columns=slice(None)):
        chance = judge(make, self.values[:, columns], self.is_real, self.group, self.seed)
        return roc_auc_score(self.is_real, chance), self.spread(chance)

    def spread(self, chance):
        """The standard error of the AUC over melodies, by 200 samples with replacement."""
        rng, members = np.random.default_rng(self.seed), [np.flatnonzero(self.group == g) for g in range(self.group.max() + 1)]
        found = []
        for _ in range(200):
            drawn = np.concatenate([members[g] for g in rng.integers(len(members), size=len(members))])
            if 0 < self.is_real[drawn].sum() < len(drawn):
                found.append(roc_auc_score(self.is_real[drawn], chance[drawn]))
        return float(np.std(found))

    def group_auc(self, group):
        return self.auc(boosted, [i for i, name in enumerate(self.names) if name.startswith(group + '.')])[0]

    def telling(self):
        """(AUC of the feature alone, name, mean of generated, mean of real), the most telling first."""
        rows = [(roc_auc_score(self.is_real, column), name, column[self.is_real == 0].mean(), column[self.is_real == 1].mean())
                for name, column in zip(self.names, self.values.T)]
        return sorted(rows, key=lambda row: -abs(row[0] - .5))


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument('family', choices=sorted(melodies.KINDS))
    parser.add_argument('real')
    parser.add_argument('generated', nargs='?')
    parser.add_argument('--groups', action='store_true', help='also what each group of features tells by itself')
    parser.add_argument('--telling', type=int, default=12, metavar='N', help='how many telling features are listed (12)')
    args = parser.parse_args()
    plain = [tune for tune in melodies.read(args.real, args.family) if melodies.is_plain(tune)]
    real = [tune for tune in plain if melodies.is_held_back(tune)]
    if args.generated:
        generated, ratio = melodies.read(args.generated, args.family), 3
    else:
        generated, ratio = [tune for tune in plain if not melodies.is_held_back(tune)], 1
    rounds = [Comparison(generated, real, ratio, seed) for seed in range(ROUNDS)]
    first = rounds[0]
    trees, lines = ([one.auc(make) for one in rounds] for make in (boosted, linear))
    mean = lambda found, k: sum(one[k] for one in found) / len(found)
    print(f'{args.family} boosted {mean(trees, 0):.3f} spread {mean(trees, 1):.3f} linear {mean(lines, 0):.3f} '
          f'generated {len(first.sides[0])} of {len(generated)} real {len(first.sides[1])} of {len(real)}')
    if args.groups:
        print('  by group: ' + ', '.join(f'{group} {first.group_auc(group):.2f}' for group in GROUPS))
    print(f'  {"what gives them away":42s} generated    real   AUC alone')
    for auc, name, ours, theirs in first.telling()[:args.telling]:
        print(f'  {name:42s} {ours:9.3f} {theirs:7.3f}  {auc:.2f}')


if __name__ == '__main__':
    main()
