package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"io"
	"log/slog"
	"math/big"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	grpcstatus "google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// lines is what a service logs, to be read while it is written.
type lines struct {
	mutex sync.Mutex
	text  strings.Builder
}

func (l *lines) Write(b []byte) (int, error) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.Write(b)
}

func (l *lines) String() string {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.String()
}

// settingsFile is a file of the test's own.
func settingsFile(t *testing.T, name, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	return file
}

// served runs a service until the test ends or stop is called, which waits for it. at
// finds the address that it logs behind a word.
func served(t *testing.T, settings string) (log *lines, at func(what string) string, stop func()) {
	t.Helper()
	file := settingsFile(t, "serve.yaml", settings)
	ctx, cancel := context.WithCancel(context.Background())
	log = &lines{}
	ended := make(chan error, 1)
	go func() {
		ended <- (&serve{Config: file, South: -90, North: 90, West: -180, East: 180}).Run(ctx, &streams{out: io.Discard, err: log})
	}()
	stop = sync.OnceFunc(func() {
		cancel()
		require.NoError(t, <-ended)
	})
	t.Cleanup(stop)
	at = func(what string) string {
		form := regexp.MustCompile(what + ` address=(\S+)`)
		require.Eventually(t, func() bool { return form.MatchString(log.String()) }, time.Minute, 10*time.Millisecond, "%s", log)
		return form.FindStringSubmatch(log.String())[1]
	}
	return log, at, stop
}

// onRealWinds are settings of the real forecast on free ports of loopback.
func onRealWinds(t *testing.T) string {
	t.Helper()
	return fmt.Sprintf("listen: 127.0.0.1:0\nforecasts: [{name: gfs, files: [%s]}]\narea: {south: 50, north: 65, west: 0, east: 30}\n", strings.Join(realwind.Files(t), ", "))
}

// ask is a request of few flights.
func ask() *thistledownv1.FlyRequest {
	few := uint32(32)
	lat, lon := 58.2, 13.0
	return &thistledownv1.FlyRequest{Plan: &thistledownv1.Plan{
		Name: "Test", Site: &thistledownv1.Site{Name: "Field", Latitude: &lat, Longitude: &lon, TimeZone: "Europe/Stockholm"},
		Launch:   timestamppb.New(time.Date(2017, 3, 22, 7, 0, 0, 0, time.UTC)),
		Train:    &thistledownv1.Train{Measured: &thistledownv1.MeasuredTrain{AscentRate: "5.2 m/s", BurstAltitude: "27 km", LandingSpeed: "5 m/s"}},
		Sampling: &thistledownv1.Sampling{FlightsPerScramble: &few},
	}}
}

func TestServeRefusesWhatIsOpen(t *testing.T) {
	real := strings.TrimPrefix(onRealWinds(t), "listen: 127.0.0.1:0\n")
	_, hash := rpc.NewToken()
	for _, c := range []struct{ name, text, want string }{
		{"open", "listen: 0.0.0.0:0\n", "not loopback, so everybody who can reach it could use it: want tokens, tls.callers, or open_to_everyone"},
		{"no host is every address", "listen: :0\n", "not loopback"},
		{"a name", "listen: localhost.example.org:0\n", "not loopback"},
		{"the gateway", "gateway: \"[::]:0\"\n", "not loopback"},
		{"tokens in the clear", fmt.Sprintf("listen: 0.0.0.0:0\ntokens: [{name: a, scope: read, sha256: %x}]\n", hash), "tokens would go there in the clear"},
		{"figures", "metrics: 0.0.0.0:0\n", "figures have no lock"},
		{"a short hash", "tokens: [{name: a, scope: read, sha256: abc}]\n", "serve.yaml:1: tokens[0].sha256: 3 characters: want the 64 hexadecimal digits"},
		{"no folder", "layers: /nowhere\n", "layers: /nowhere: want a folder"},
		{"no certificate", "tls: {certificate: /nowhere, key: /nowhere}\n", "tls: /nowhere"},
	} {
		err := (&serve{Config: settingsFile(t, "serve.yaml", c.text+real), Check: true, South: -90, North: 90, West: -180, East: 180}).
			Run(t.Context(), &streams{out: io.Discard, err: io.Discard})
		require.Error(t, err, c.name)
		assert.Contains(t, err.Error(), c.want, c.name)
	}
	var out strings.Builder
	require.NoError(t, (&serve{Config: settingsFile(t, "serve.yaml", "listen: 0.0.0.0:0\nopen_to_everyone: true\n"+real), Check: true, South: -90, North: 90, West: -180, East: 180}).
		Run(t.Context(), &streams{out: &out, err: io.Discard}))
	assert.Contains(t, out.String(), "gRPC at 0.0.0.0:0, in the clear, open to everyone who reaches it\n")
	assert.Contains(t, out.String(), "forecast gfs: cycle 2017-03-22T00:00:00Z, winds from 2017-03-22T00:00:00Z to 2017-03-22T12:00:00Z, 1 members")
}

// A call under way when the service is told to end is answered; health goes first.
func TestServeDrains(t *testing.T) {
	log, at, stop := served(t, onRealWinds(t)+"metrics: 127.0.0.1:0\ngateway: 127.0.0.1:0\n")
	conn, err := grpc.NewClient(at("msg=serving"), grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	defer func() { _ = conn.Close() }()
	_, err = thistledownv1.NewPlannerClient(conn).Fly(t.Context(), ask())
	require.NoError(t, err)
	metrics := func() string {
		got, err := http.Get("http://" + at("for=metrics") + "/metrics") //nolint:noctx // loopback
		require.NoError(t, err)
		all, err := io.ReadAll(got.Body)
		require.NoError(t, err)
		require.NoError(t, got.Body.Close())
		return string(all)
	}
	text := ""
	require.Eventually(t, func() bool { // a call is counted once it has ended, soon after its answer came
		text = metrics()
		return strings.Contains(text, "rpc_server_call_duration_seconds_count{")
	}, time.Minute, 20*time.Millisecond)
	for _, want := range []string{
		`rpc_method="thistledown.v1.Planner/Fly"`, "thistledown_flights_total 256", "thistledown_calls_waiting 0",
		`thistledown_forecast_age_seconds{forecast="gfs"}`, `thistledown_ground_kept_total{kept="false"} 1`, "thistledown_calls_refused_total 0",
	} {
		assert.Contains(t, text, want)
	}
	assert.Regexp(t, `msg=call request=\S+ method=/thistledown.v1.Planner/Fly caller=127.0.0.1 code=OK took=`, log.String())

	long := ask()
	many := uint32(16384)
	long.Plan.Sampling.FlightsPerScramble = &many
	answered := make(chan error, 1)
	go func() { _, err := thistledownv1.NewPlannerClient(conn).Fly(t.Context(), long); answered <- err }()
	watch, err := healthv1.NewHealthClient(conn).Watch(t.Context(), &healthv1.HealthCheckRequest{Service: "thistledown.v1.Planner"})
	require.NoError(t, err)
	state, err := watch.Recv()
	require.NoError(t, err)
	require.Equal(t, healthv1.HealthCheckResponse_SERVING, state.GetStatus())
	require.Eventually(t, func() bool { // it is under way, unless it is over already
		return len(answered) > 0 || strings.Contains(metrics(), "thistledown_calls_running 1")
	}, time.Minute, time.Millisecond)
	go stop()
	state, err = watch.Recv()
	require.NoError(t, err)
	assert.Equal(t, healthv1.HealthCheckResponse_NOT_SERVING, state.GetStatus(), "told before it ends")
	require.NoError(t, <-answered, "a call under way ends")
}

// What --new-token prints is a token and the hash of it that settings take.
func TestServeNewToken(t *testing.T) {
	var out strings.Builder
	require.NoError(t, (&serve{NewToken: true}).Run(t.Context(), &streams{out: &out, err: io.Discard}))
	printed := regexp.MustCompile(`\Atoken:  ([A-Z2-7]{26})\nsha256: ([0-9a-f]{64})\n\z`).FindStringSubmatch(out.String())
	require.Len(t, printed, 3, "%s", out.String())
	settings, err := plan.ReadSettings("serve.yaml", []byte("forecasts: [{name: x, files: [y]}]\ntokens: [{name: page, scope: full, sha256: "+printed[2]+"}]\n"))
	require.NoError(t, err)
	require.Len(t, settings.Tokens, 1)
	assert.Equal(t, sha256.Sum256([]byte(printed[1])), settings.Tokens[0].Hash)
}

// pair is a certificate and its key, made by an authority or by itself.
type pair struct {
	certificate *x509.Certificate
	key         *ecdsa.PrivateKey
	pem, keyPEM string
}

func issued(t *testing.T, name string, by *pair) *pair {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	form := &x509.Certificate{
		SerialNumber: big.NewInt(time.Now().UnixNano()), Subject: pkix.Name{CommonName: name}, DNSNames: []string{"localhost"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: by == nil, BasicConstraintsValid: true,
		KeyUsage:    x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
	}
	parent, signer := form, key
	if by != nil {
		parent, signer = by.certificate, by.key
	}
	der, err := x509.CreateCertificate(rand.Reader, form, parent, &key.PublicKey, signer)
	require.NoError(t, err)
	made, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	return &pair{
		made, key,
		string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})),
		string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})),
	}
}

// Callers come in with a token or with a certificate of the right authority, and the
// service's own certificate is another once its file is.
func TestServeLocked(t *testing.T) {
	authority, stranger := issued(t, "club", nil), issued(t, "stranger", nil)
	own, lead, intruder := issued(t, "service", authority), issued(t, "lead", authority), issued(t, "lead", stranger)
	folder := t.TempDir()
	for name, text := range map[string]string{"cert.pem": own.pem, "key.pem": own.keyPEM, "ca.pem": authority.pem} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
	}
	token, hash := rpc.NewToken()
	log, at, _ := served(t, onRealWinds(t)+fmt.Sprintf("tls: {certificate: %[1]s/cert.pem, key: %[1]s/key.pem, callers: %[1]s/ca.pem}\ntokens: [{name: page, scope: read, sha256: %[2]x}]\ngateway: 127.0.0.1:0\n", folder, hash))
	address := at("msg=serving")
	roots := x509.NewCertPool()
	roots.AddCert(authority.certificate)
	call := func(show *pair, header string) error {
		c := &tls.Config{RootCAs: roots, ServerName: "localhost", MinVersion: tls.VersionTLS12}
		if show != nil {
			shown, err := tls.X509KeyPair([]byte(show.pem), []byte(show.keyPEM))
			require.NoError(t, err)
			c.GetClientCertificate = func(*tls.CertificateRequestInfo) (*tls.Certificate, error) { return &shown, nil }
		}
		conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(credentials.NewTLS(c)))
		require.NoError(t, err)
		defer func() { _ = conn.Close() }()
		ctx, stop := context.WithTimeout(t.Context(), time.Minute)
		defer stop()
		if header != "" {
			ctx = metadata.AppendToOutgoingContext(ctx, "authorization", header)
		}
		_, err = thistledownv1.NewPlannerClient(conn).Fly(ctx, ask())
		return err
	}
	assert.Equal(t, codes.Unauthenticated, grpcstatus.Code(call(nil, "")), "with nothing")
	require.NoError(t, call(nil, "Bearer "+token))
	require.NoError(t, call(lead, ""))
	assert.Equal(t, codes.Unavailable, grpcstatus.Code(call(intruder, "")), "a certificate of another authority ends the handshake")
	assert.Contains(t, log.String(), `caller="certificate lead"`)
	assert.Contains(t, log.String(), `caller="token page"`)
	assert.NotContains(t, log.String(), token)

	plain, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	defer func() { _ = plain.Close() }()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	_, err = thistledownv1.NewPlannerClient(plain).Fly(metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+token), ask())
	require.Error(t, err, "in the clear")

	serial := func() *big.Int {
		conn, err := tls.Dial("tcp", at("for=gateway"), &tls.Config{RootCAs: roots, ServerName: "localhost", MinVersion: tls.VersionTLS12})
		require.NoError(t, err)
		defer func() { _ = conn.Close() }()
		return conn.ConnectionState().PeerCertificates[0].SerialNumber
	}
	require.Equal(t, own.certificate.SerialNumber, serial())
	next := issued(t, "service", authority)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "cert.pem"), []byte(next.pem), 0o600))
	time.Sleep(1100 * time.Millisecond)
	require.Equal(t, own.certificate.SerialNumber, serial(), "a certificate without its key is not shown")
	require.NoError(t, os.WriteFile(filepath.Join(folder, "key.pem"), []byte(next.keyPEM), 0o600))
	require.Eventually(t, func() bool { return serial().Cmp(next.certificate.SerialNumber) == 0 }, time.Minute, 200*time.Millisecond)
	require.NoError(t, call(nil, "Bearer "+token))
}

// A newer cube in the folder is flown on without a restart, its file is not held, and a
// broken one leaves what there was.
func TestServeFollowsTheFolder(t *testing.T) {
	folder := t.TempDir()
	forecasts := rpc.NewCatalogue(0, "gfs")
	log := &lines{}
	turn := &turnover{
		of: plan.KeptForecast{Name: "gfs", Kept: folder, Source: "gfs"}, area: geo.Box{South: -90, North: 90, West: -180, East: 180},
		into: forecasts, log: slog.New(slog.NewTextHandler(log, nil)), every: 20 * time.Millisecond, again: make(chan struct{}, 1),
	}
	require.ErrorIs(t, turn.load(t.Context()), errNothingKept)
	go turn.watch(t.Context())
	packed := filepath.Join(t.TempDir(), "x.cube")
	code, _, errs := thistledown(append([]string{"winds", "pack", "--box", "south=50,north=65,west=0,east=30", "--out", packed}, realwind.Files(t)...)...)
	require.Equal(t, 0, code, errs)
	content, err := os.ReadFile(packed) //nolint:gosec // the test's own
	require.NoError(t, err)
	broken := filepath.Join(folder, "gfs-20170323T0000Z.cube")
	require.NoError(t, os.WriteFile(broken, content[:len(content)/2], 0o600))
	name := filepath.Join(folder, "gfs-20170322T0000Z.cube")
	require.NoError(t, os.Rename(packed, name))
	require.Eventually(t, func() bool { return strings.Contains(log.String(), "forecast loaded") }, time.Minute, 20*time.Millisecond, "%s", log)
	maps, err := os.ReadFile("/proc/self/maps")
	if err == nil {
		assert.NotContains(t, string(maps), name, "the cube stays mapped")
	}
	turn.ask()
	require.Eventually(t, func() bool { return strings.Count(log.String(), "forecast loaded") == 2 }, time.Minute, 20*time.Millisecond, "SIGHUP reads it again")
}

func TestSystemdUnits(t *testing.T) {
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("left out for want of systemd-analyze")
	}
	units, err := filepath.Glob("../../scripts/systemd/*.*")
	require.NoError(t, err)
	require.Len(t, units, 5)
	folder := t.TempDir()
	var copies []string
	for _, unit := range units { // of which the program is not installed here
		text := strings.ReplaceAll(mustRead(t, unit), "/usr/local/bin/thistledown", "/bin/true")
		copies = append(copies, filepath.Join(folder, filepath.Base(unit)))
		require.NoError(t, os.WriteFile(copies[len(copies)-1], []byte(text), 0o600))
	}
	out, err := exec.CommandContext(t.Context(), tool, append([]string{"verify", "--man=no"}, copies...)...).CombinedOutput() //nolint:gosec // a tool of the system
	require.NoError(t, err, "%s", out)
	assert.Empty(t, string(out))
}
