//go:build goexperiment.simd && amd64

package flight

// Plainly makes a kernel fly without vectors from its next Prepare on.
func Plainly(k *Kernel) { k.vectors.plain = true }

// Together reports whether a kernel flies with vectors.
func Together(k *Kernel) bool { return k.vectors.ready }
