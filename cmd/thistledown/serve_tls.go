package main

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"example.org/thistledown/internal/archive"
)

// keys are the certificate that the service shows and the authorities that it takes
// callers' certificates of. They are read anew when their files change.
type keys struct {
	certificate, key, callers string
	must                      bool // callers show a certificate

	mutex  sync.Mutex
	stamps [3]time.Time
	looked time.Time
	now    *tls.Config // of what was read last
}

// maxKeyFile bounds a PEM file, octets.
const maxKeyFile = 1 << 20

// lookAtKeys is how often the files are looked at, at most.
const lookAtKeys = time.Second

// readKeys reads the files; must is whether every caller has to show a certificate,
// where any are taken.
func readKeys(certificate, key, callers string, must bool) (*keys, error) {
	k := &keys{certificate: certificate, key: key, callers: callers, must: must}
	return k, k.read()
}

// read reads the files anew.
func (k *keys) read() error {
	stamps := k.times()
	var parts [2][]byte
	for i, name := range []string{k.certificate, k.key} {
		var err error
		if parts[i], err = archive.ReadFile(name, maxKeyFile); err != nil {
			return fmt.Errorf("tls: %s: %w", name, err)
		}
	}
	pair, err := tls.X509KeyPair(parts[0], parts[1])
	if err != nil {
		return fmt.Errorf("tls: %s and %s: %w: want a certificate and its key in PEM", k.certificate, k.key, err)
	}
	c := &tls.Config{MinVersion: tls.VersionTLS12, Certificates: []tls.Certificate{pair}}
	if k.callers != "" {
		text, err := archive.ReadFile(k.callers, maxKeyFile)
		if err == nil {
			c.ClientCAs = x509.NewCertPool()
			if !c.ClientCAs.AppendCertsFromPEM(text) {
				err = errors.New("no certificate in it: want authorities in PEM")
			}
		}
		if err != nil {
			return fmt.Errorf("tls.callers: %s: %w", k.callers, err)
		}
		if c.ClientAuth = tls.VerifyClientCertIfGiven; k.must {
			c.ClientAuth = tls.RequireAndVerifyClientCert
		}
	}
	k.now, k.stamps = c, stamps
	return nil
}

// times are when the files were changed; zero for one that is not there.
func (k *keys) times() (t [3]time.Time) {
	for i, name := range []string{k.certificate, k.key, k.callers} {
		if info, err := os.Stat(name); name != "" && err == nil {
			t[i] = info.ModTime()
		}
	}
	return t
}

// config is a configuration that follows the files. Where what is there now cannot be
// read, what was read before holds: a key is written after its certificate.
func (k *keys) config(protocols ...string) *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12, NextProtos: protocols,
		GetConfigForClient: func(*tls.ClientHelloInfo) (*tls.Config, error) {
			k.mutex.Lock()
			defer k.mutex.Unlock()
			if now := time.Now(); now.Sub(k.looked) > lookAtKeys {
				k.looked = now
				if k.times() != k.stamps {
					_ = k.read()
				}
			}
			c := k.now.Clone()
			c.NextProtos = protocols
			return c, nil
		},
	}
}
