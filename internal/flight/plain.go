//go:build !goexperiment.simd || !amd64

package flight

// vectors is what the kernel flies several flights at once with, where the
// toolchain and the processor can: here they cannot.
type vectors struct{}

func (k *Kernel) prepareVectors() {}

func (v *vectors) usable() bool { return false }

func (k *Kernel) depart() {}

func (k *Kernel) riseTogether(int, int) {}

func (k *Kernel) fallTogether(*layer, int) {}

func (k *Kernel) home(int) {}

func (k *Kernel) away(int) {}

func (k *Kernel) peek(int) {}

// take writes what is given from mean sea level up, and as much of each.
func (e *errors) take(east, north []float64) {
	north = north[:len(east)]
	for j, v := range east {
		e[2*j], e[2*j+1] = float32(v), float32(north[j])
	}
}

func (k *Kernel) span(n int) spanned { return k.block.span(n) }
