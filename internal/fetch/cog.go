package fetch

type groundSource struct {
	Name string `yaml:"name"`
}

func (g groundSource) check() error { return nil }
