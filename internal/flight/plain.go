//go:build !goexperiment.simd || !amd64

package flight

// vectors is what the kernel flies several flights at once with, where the
// toolchain and the processor can: here they cannot.
type vectors struct{}

// layerLanes is what a layer has for it.
type layerLanes struct{}

func (v *vectors) prepare(*Kernel) {}

func (v *vectors) usable() bool { return false }

func (k *Kernel) depart() {}

func (k *Kernel) riseTogether(int, int) {}

func (k *Kernel) fallTogether(int, int) {}

func (k *Kernel) home(int) {}

func (k *Kernel) away(int) {}

func (k *Kernel) peek(int) {}
