package rules

import (
	"fmt"
	"slices"

	"example.org/thistledown/internal/balloon"
)

// Unboxed is the name of the package of what hangs at the bottom and is in no
// container.
const Unboxed = "all that hangs at the bottom"

// Container is what a plan says of one package.
type Container struct {
	Name  string
	Parts []string  // names of the parts in it, all pieces of each
	Faces []float64 // as in Package; none: not known
}

// Pack sorts the parts of a budget into packages and the rest of the payload, kg.
//
// Parts at the bottom that are in no container make one package together, of which
// no more than the heaviest piece is sure to be one: the reading that is nearest
// to every limit of a single package. Parts at the neck and on the train that are
// in no container are the rest.
func Pack(parts []balloon.Part, containers []Container) (packages []Package, rest float64, err error) {
	if len(parts) > balloon.MaxParts || len(containers) > MaxPackages {
		return nil, 0, fmt.Errorf("parts %d, containers %d: want at most %d and %d",
			len(parts), len(containers), balloon.MaxParts, MaxPackages)
	}
	in := map[string]string{} // container by part
	for i, c := range containers {
		p := Package{Name: c.Name, Faces: slices.Clone(c.Faces)}
		for _, name := range c.Parts {
			at := slices.IndexFunc(parts, func(q balloon.Part) bool { return q.Name == name })
			if at < 0 {
				return nil, 0, fmt.Errorf("package %d %q: part %q: want the name of a part of the train", i+1, c.Name, name)
			}
			if other, twice := in[name]; twice {
				return nil, 0, fmt.Errorf("package %d %q: part %q: want a part that is not in package %q already", i+1, c.Name, name, other)
			}
			in[name] = c.Name
			p.Mass += parts[at].Mass * float64(parts[at].Count)
		}
		p.Least = p.Mass
		if err := p.Check(); err != nil {
			return nil, 0, fmt.Errorf("package %d %q: %w", i+1, c.Name, err)
		}
		packages = append(packages, p)
	}
	loose := Package{Name: Unboxed}
	for _, p := range parts {
		if _, boxed := in[p.Name]; boxed {
			continue
		}
		mass := p.Mass * float64(p.Count)
		if p.Place != balloon.AtBottom {
			rest += mass
			continue
		}
		loose.Mass += mass
		loose.Least = max(loose.Least, p.Mass)
	}
	if loose.Mass > 0 {
		packages = append(packages, loose)
	}
	return packages, rest, nil
}
