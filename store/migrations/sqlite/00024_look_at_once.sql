-- On a server, an index for the plots that are due at one instant. Here each index ends with the id.

-- +goose Up
-- +goose Down
