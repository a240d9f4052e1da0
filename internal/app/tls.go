package app

import (
	"crypto/tls"
	"fmt"
	"net"
	"net/http"
	"sync"
	"time"

	"tankside/internal/config"
)

// certAge is how long a certificate is used before its files are read again, our
// choice: a renewed one is in use within a minute, without a restart.
const certAge = time.Minute

// certificate is a certificate and its key in two files.
type certificate struct {
	cert, key string // paths

	mu   sync.Mutex
	read *tls.Certificate
	at   time.Time
}

// of returns the certificate for a connection. While the files cannot be read, the
// certificate that was read before stays in use.
func (c *certificate) of(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.read != nil && time.Since(c.at) < certAge {
		return c.read, nil
	}
	pair, err := tls.LoadX509KeyPair(c.cert, c.key)
	if err != nil && c.read == nil {
		return nil, fmt.Errorf("read the certificate of TANKSIDE_TLS_CERT and TANKSIDE_TLS_KEY: %w", err)
	}
	if err == nil {
		c.read = &pair
	}
	c.at = time.Now()
	return c.read, nil
}

// serveTLS serves with a certificate where one is set, and otherwise without.
func serveTLS(server *http.Server, cfg config.Config, listener net.Listener) error {
	if cfg.TLSCert == "" {
		return server.Serve(listener)
	}
	c := &certificate{cert: cfg.TLSCert, key: cfg.TLSKey}
	if _, err := c.of(nil); err != nil {
		return err
	}
	server.TLSConfig = &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.of}
	return server.ServeTLS(listener, "", "")
}
