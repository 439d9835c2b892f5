module example.org/thistledown/scripts/tools/protoc-gen-go-grpc

go 1.26.0

tool google.golang.org/grpc/cmd/protoc-gen-go-grpc

require (
	google.golang.org/grpc/cmd/protoc-gen-go-grpc v1.6.2 // indirect
	google.golang.org/protobuf v1.36.11 // indirect
)
