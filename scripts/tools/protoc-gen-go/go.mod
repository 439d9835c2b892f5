module example.org/thistledown/scripts/tools/protoc-gen-go

go 1.26.0

tool google.golang.org/protobuf/cmd/protoc-gen-go

require google.golang.org/protobuf v1.36.12 // indirect
