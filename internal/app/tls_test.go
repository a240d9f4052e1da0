package app

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/config"
	"tankside/internal/pg/pgtest"
)

// selfSigned writes a certificate for 127.0.0.1 that vouches for itself, with its
// key, and returns whoever trusts it.
func selfSigned(t *testing.T, cert, key string) *x509.CertPool {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	about := &x509.Certificate{SerialNumber: big.NewInt(time.Now().UnixNano()),
		NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, about, about, private.Public(), private)
	require.NoError(t, err)
	raw, err := x509.MarshalECPrivateKey(private)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}),
		0o600))
	require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: raw}),
		0o600))
	made, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	pool := x509.NewCertPool()
	pool.AddCert(made)
	return pool
}

func TestTheServiceSpeaksHTTPSWithACertificateOfItsOwn(t *testing.T) {
	dir := t.TempDir()
	cfg := config.Config{Database: config.Secret(pgtest.New(t).AppURL), TLSCert: filepath.Join(dir, "cert.pem"),
		TLSKey: filepath.Join(dir, "key.pem"), Grace: 5 * time.Second}
	trusted := selfSigned(t, cfg.TLSCert, cfg.TLSKey)
	a, err := New(t.Context(), cfg, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	listener, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- a.Serve(ctx, listener) }()
	get := func(scheme string, top uint16) (int, error) {
		c := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trusted,
			MaxVersion: top}}}
		defer c.CloseIdleConnections()
		r, err := c.Get(scheme + "://" + listener.Addr().String() + "/livez")
		if err != nil {
			return 0, err
		}
		return r.StatusCode, r.Body.Close()
	}
	status, err := get("https", 0)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	status, err = get("http", 0)
	require.NoError(t, err)
	require.Equal(t, http.StatusBadRequest, status, "plain HTTP is told to come with TLS")
	_, err = get("https", tls.VersionTLS11)
	require.Error(t, err)
	stop()
	require.NoError(t, <-ended)
}

// A renewed certificate counts without a restart; files that are gone meanwhile
// leave the former in use.
func TestARenewedCertificateIsReadAnew(t *testing.T) {
	dir := t.TempDir()
	c := &certificate{cert: filepath.Join(dir, "cert.pem"), key: filepath.Join(dir, "key.pem")}
	_, err := c.of(nil)
	require.ErrorContains(t, err, "TANKSIDE_TLS_CERT")
	selfSigned(t, c.cert, c.key)
	first, err := c.of(nil)
	require.NoError(t, err)
	selfSigned(t, c.cert, c.key)
	kept, err := c.of(nil)
	require.NoError(t, err)
	require.Equal(t, first, kept, "within a minute")
	c.at = c.at.Add(-certAge)
	renewed, err := c.of(nil)
	require.NoError(t, err)
	require.NotEqual(t, first.Certificate, renewed.Certificate)
	require.NoError(t, os.Remove(c.cert))
	c.at = c.at.Add(-certAge)
	last, err := c.of(nil)
	require.NoError(t, err)
	require.Equal(t, renewed, last)
}
