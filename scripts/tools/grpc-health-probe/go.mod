module example.org/thistledown/scripts/tools/grpc-health-probe

go 1.26.0

tool github.com/grpc-ecosystem/grpc-health-probe

require (
	github.com/Microsoft/go-winio v0.6.2 // indirect
	github.com/go-jose/go-jose/v4 v4.1.6 // indirect
	github.com/grpc-ecosystem/grpc-health-probe v0.4.62 // indirect
	github.com/spiffe/go-spiffe/v2 v2.9.0 // indirect
	golang.org/x/net v0.62.0 // indirect
	golang.org/x/sync v0.24.0 // indirect
	golang.org/x/sys v0.49.0 // indirect
	golang.org/x/text v0.43.0 // indirect
	google.golang.org/genproto/googleapis/rpc v0.0.0-20260817212433-ac3dfec99bb1 // indirect
	google.golang.org/grpc v1.85.0 // indirect
	google.golang.org/protobuf v1.36.12 // indirect
)
