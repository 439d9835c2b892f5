package rpc_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// tool finds a program of scripts/tools, as make builds it or as it is installed. Where
// there is none the test is left out.
func tool(t *testing.T, name string) string {
	t.Helper()
	built, err := filepath.Abs(filepath.Join("../../.bin", name))
	require.NoError(t, err)
	if _, err := os.Stat(built); err == nil {
		return built
	}
	installed, err := exec.LookPath(name)
	if err != nil {
		t.Skip("left out for want of " + name + ": make .bin/" + name + " builds it")
	}
	return installed
}

// The probe that clusters ask services by, which has no token, tells a service that has
// a forecast from one that has none, and from one that does not know the name.
func TestStandardProbe(t *testing.T) {
	probe := tool(t, "grpc-health-probe")
	_, locked := token(t, "page", rpc.ReadScope)
	guard := rpc.Guard{Tokens: []rpc.Token{locked}}
	_, serves := started(t, rpc.Planner{Forecasts: flownOn([]*wind.Field{realwind.Field(t)}), Guard: guard})
	_, waits := started(t, rpc.Planner{Forecasts: rpc.NewCatalogue(0, "now"), Guard: guard})
	// Exit statuses as the probe's own source has them: 3 the call failed, 4 unhealthy.
	for _, c := range []struct {
		name, at, service string
		status            int
		says              string
	}{
		{"the server", serves.Target(), "", 0, "status: SERVING"},
		{"the service", serves.Target(), serviceName, 0, "status: SERVING"},
		{"no forecast", waits.Target(), serviceName, 4, `service unhealthy (responded with "NOT_SERVING")`},
		{"another name", serves.Target(), "thistledown.v2.Planner", 3, "NotFound"},
	} {
		out, errs, err := run(t, probe, "-addr", c.at, "-service", c.service, "-connect-timeout", "30s", "-rpc-timeout", "30s")
		got := 0
		if err != nil {
			var ended *exec.ExitError
			require.ErrorAs(t, err, &ended, c.name)
			got = ended.ExitCode()
		}
		assert.Equal(t, c.status, got, "%s: %s%s", c.name, out, errs)
		assert.Contains(t, out+errs, c.says, c.name)
	}
}

// A load client that learns the schema from the service has each of its calls answered,
// launches and weeks, and bad input refused each time.
func TestForeignLoad(t *testing.T) {
	ghz := tool(t, "ghz")
	_, conn := started(t, rpc.Planner{Forecasts: flownOn([]*wind.Field{realwind.Field(t)})})
	week := weekly()
	week.Sampling.FlightsPerScramble = proto.Uint32(8)
	bad := small()
	bad.Plan.Site.Latitude = proto.Float64(158)
	for _, c := range []struct {
		name, method string
		ask          proto.Message
		calls        int
		code         string
	}{
		{"launches", "Fly", small(), 40, "OK"},
		{"weeks", "RankWindows", &thistledownv1.RankWindowsRequest{Plan: week}, 4, "OK"},
		{"bad input", "Fly", bad, 20, "InvalidArgument"},
	} {
		out, errs, err := run(t, ghz, "--insecure", "--call", serviceName+"."+c.method, "-d", asJSON(t, c.ask), "-n", strconv.Itoa(c.calls),
			"-c", "4", "--connections", "2", "--connect-timeout", "30s", "-t", "60s", "-O", "json", conn.Target())
		require.NoError(t, err, "%s: %.500s", c.name, errs)
		var got struct {
			Count   int
			Average float64        // ns
			Codes   map[string]int `json:"statusCodeDistribution"`
			Errors  map[string]int `json:"errorDistribution"`
		}
		require.NoError(t, json.Unmarshal([]byte(out), &got), "%s: %.500s", c.name, out)
		assert.Equal(t, c.calls, got.Count, c.name)
		assert.Equal(t, map[string]int{c.code: c.calls}, got.Codes, "%s: %v", c.name, got.Errors)
		assert.Positive(t, got.Average, c.name)
	}
}
