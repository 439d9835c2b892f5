//go:build goexperiment.simd && amd64

package flight

// Plainly makes a new kernel fly without vectors.
func Plainly(k *Kernel) { k.vectors = &vectors{plain: true} }

// Together reports whether a kernel flies with vectors.
func Together(k *Kernel) bool { return k.vectors.ready }
