package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"go.opentelemetry.io/contrib/instrumentation/google.golang.org/grpc/otelgrpc"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracegrpc"
	otelprometheus "go.opentelemetry.io/otel/exporters/prometheus"
	"go.opentelemetry.io/otel/metric"
	"go.opentelemetry.io/otel/propagation"
	sdkmetric "go.opentelemetry.io/otel/sdk/metric"
	"go.opentelemetry.io/otel/sdk/resource"
	sdktrace "go.opentelemetry.io/otel/sdk/trace"
	"google.golang.org/grpc/stats"

	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/rpc"
)

// seen are the figures and traces of a service. Traces go nowhere but where the
// settings say.
type seen struct {
	http.Handler // the figures, at /metrics

	figures *sdkmetric.MeterProvider // nil: nobody asks for them
	traces  *sdktrace.TracerProvider // nil: nowhere to send them
}

// exportWithin is how long the last traces may take on their way when the service ends.
const exportWithin = 3 * time.Second

// seeing begins to keep what the settings ask for.
func seeing(ctx context.Context, settings plan.Settings) (*seen, error) {
	s := &seen{}
	about := resource.NewSchemaless(attribute.String("service.name", "thistledown"), attribute.String("service.version", version))
	if settings.Metrics != "" {
		registry := prometheus.NewRegistry()
		registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
		reader, err := otelprometheus.New(otelprometheus.WithRegisterer(registry), otelprometheus.WithoutScopeInfo())
		if err != nil {
			return nil, fmt.Errorf("%w: %w", errInternal, err)
		}
		s.figures = sdkmetric.NewMeterProvider(sdkmetric.WithReader(reader), sdkmetric.WithResource(about))
		mux := http.NewServeMux()
		mux.Handle("GET /metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{MaxRequestsInFlight: 4, Timeout: headersWithin}))
		s.Handler = mux
	}
	if settings.Traces != "" {
		exporter, err := otlptracegrpc.New(ctx, otlptracegrpc.WithEndpointURL(settings.Traces))
		if err != nil {
			return nil, fmt.Errorf("traces: %s: %w", settings.Traces, err)
		}
		s.traces = sdktrace.NewTracerProvider(sdktrace.WithBatcher(exporter), sdktrace.WithResource(about))
	}
	return s, nil
}

// calls measures and traces calls; nil where nobody asks for it.
func (s *seen) calls() stats.Handler {
	var with []otelgrpc.Option
	if s.figures != nil {
		with = append(with, otelgrpc.WithMeterProvider(s.figures))
	}
	if s.traces != nil {
		with = append(with, otelgrpc.WithTracerProvider(s.traces), otelgrpc.WithPropagators(propagation.TraceContext{}))
	}
	if len(with) == 0 {
		return nil
	}
	return otelgrpc.NewServerHandler(with...)
}

// watch reads the service's own figures whenever they are asked for.
func (s *seen) watch(server *rpc.Server) error {
	if s.figures == nil {
		return nil
	}
	m := s.figures.Meter("thistledown")
	flights, err1 := m.Int64ObservableCounter("thistledown.flights", metric.WithDescription("Flights of calls that were let in and have ended."))
	waiting, err2 := m.Int64ObservableGauge("thistledown.calls.waiting", metric.WithDescription("Calls that wait for their turn."))
	running, err3 := m.Int64ObservableGauge("thistledown.calls.running", metric.WithDescription("Calls that are worked on."))
	refused, err4 := m.Int64ObservableCounter("thistledown.calls.refused", metric.WithDescription("Calls refused for want of room."))
	age, err5 := m.Float64ObservableGauge("thistledown.forecast.age", metric.WithUnit("s"), metric.WithDescription("Since the cycle of a forecast."))
	hits, err6 := m.Int64ObservableCounter("thistledown.ground.kept", metric.WithDescription("Ground abroad asked for, by whether it was kept from before."))
	if err := errors.Join(err1, err2, err3, err4, err5, err6); err != nil {
		return fmt.Errorf("%w: %w", errInternal, err)
	}
	_, err := m.RegisterCallback(func(_ context.Context, o metric.Observer) error {
		now := server.State()
		o.ObserveInt64(flights, now.Flights)
		o.ObserveInt64(waiting, int64(now.Waiting))
		o.ObserveInt64(running, int64(now.Running))
		o.ObserveInt64(refused, now.Refused)
		for name, a := range now.Ages {
			o.ObserveFloat64(age, a.Seconds(), metric.WithAttributes(attribute.String("forecast", name)))
		}
		o.ObserveInt64(hits, now.Kept, metric.WithAttributes(attribute.Bool("kept", true)))
		o.ObserveInt64(hits, now.Made, metric.WithAttributes(attribute.Bool("kept", false)))
		return nil
	}, flights, waiting, running, refused, age, hits)
	if err != nil {
		return fmt.Errorf("%w: %w", errInternal, err)
	}
	return nil
}

// end sends what is left of the traces.
func (s *seen) end() error {
	ctx, stop := context.WithTimeout(context.Background(), exportWithin)
	defer stop()
	if s.traces != nil {
		_ = s.traces.Shutdown(ctx) // nobody there to take them is no fault of the service's
	}
	if s.figures != nil {
		return s.figures.Shutdown(ctx)
	}
	return nil
}
